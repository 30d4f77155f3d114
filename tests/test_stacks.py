"""What is found at a setting is the same to the last bit, however many others are solved in one stack with it.

What is remembered of a pair rests on this: which settings are solved together depends on what else is searched.
The oracle is one large stack of the same machine.
"""

from dataclasses import fields, replace
from itertools import combinations, product

import numpy as np
import pytest
from random_machines import FAMILIES, random_machine
from tries import first

from assembly.kinematics import solver
from assembly.kinematics.array_stacks import crossings, crossings_within
from assembly.kinematics.assembling import assemble
from assembly.kinematics.cell_motion import bound_motion
from assembly.kinematics.rows import Posture
from assembly.kinematics.solver import follow_or_restart, solve

WHOLE = 520
"""More than the solver takes at once."""
SIZES = (1, 7, 256)
SMALL, SMALL_SIZES = 72, (1, 7, 33)
"""The same where the solver takes 64 at once."""


def bits(value, rows=slice(None)):
    """The bytes of every array of a stack at ``rows``."""
    if isinstance(value, Posture):
        value = value.take(np.arange(len(value))[rows])
        return value.centres.tobytes(), value.rotations.tobytes()
    if isinstance(value, np.ndarray):
        return value[rows].tobytes()
    return {field.name: bits(getattr(value, field.name), rows) for field in fields(value)}


def shared(seed):
    """A random machine whose first drive moves every joint that another one moves, too."""
    made = random_machine(seed)
    first, *others = made.drives.values()
    more = {
        joint: 0.37 * ratio for drive in others for joint, ratio in drive.ratios.items() if drive.kind is first.kind
    }
    return replace(made, drives={**made.drives, first.name: replace(first, ratios={**more, **first.ratios})})


SEEDS = (*range(len(FAMILIES)), 35)
"""One of each family; of the last one that locks and one that does not, for the first is followed in vain for long."""
MACHINES = [(random_machine, seed) for seed in SEEDS] + [(shared, seed) for seed in (0, 9, 18, 27, 4)]


@pytest.mark.parametrize(("make", "seed"), first(MACHINES[1::4], 2))
def test_no_posture_and_no_bound_depends_on_the_size_of_its_stack(make, seed):
    compare_sizes(make(seed), WHOLE, SIZES)


@pytest.mark.parametrize(("make", "seed"), first(MACHINES[::3] + MACHINES[1::3] + MACHINES[2::3], 5))
def test_nor_do_they_in_small_stacks(make, seed, monkeypatch):
    monkeypatch.setattr(solver, "AT_ONCE", 64)
    compare_sizes(make(seed), SMALL, SMALL_SIZES)


def compare_sizes(made, whole, sizes):
    mechanism, drives = assemble(made), list(made.drives.values())
    low, high = np.array([drive.low for drive in drives]), np.array([drive.high for drive in drives])
    settings = low + np.random.default_rng(1).random((whole, len(drives))) * (high - low)
    half = np.tile((high - low) / 40, (whole, 1))
    solved = solve(mechanism, settings)
    cells = bound_motion(mechanism, solved, half)
    on = follow_or_restart(mechanism, solved, np.arange(whole), np.clip(settings + half, low, high))
    for size in sizes:
        rows = slice(31, 31 + size)
        part, count = solved.take(np.arange(whole)[rows]), np.arange(size)
        assert bits(solve(assemble(made), settings[rows])) == bits(solved, rows)
        assert bits(bound_motion(mechanism, part, half[rows])) == bits(cells, rows)
        assert bits(follow_or_restart(mechanism, part, count, on.settings[rows])) == bits(on, rows)


def test_where_all_crossings_are_too_many_those_of_each_two_axes_are_looked_at():
    """Independent: itertools. Forty axes of three values have 12 157 665 459 056 928 801 crossings."""
    axes = [np.array([-1.0, 0.0, 2.0])] * 40
    few = crossings_within(axes, 10_000)
    wanted = {
        tuple(a if k == i else b if k == j else 0.0 for k in range(40))
        for i, j in combinations(range(40), 2)
        for a, b in product((-1.0, 0.0, 2.0), repeat=2)
    }
    assert set(map(tuple, few.tolist())) == wanted
    assert len(few) == len(wanted) == 1 + 2 * 40 + 4 * 780
    assert crossings_within(axes[:3], 27).tolist() == crossings(axes[:3]).tolist()


def test_where_those_of_each_two_axes_are_too_many_each_axis_is_looked_at_alone():
    """Independent: itertools. Two hundred axes would have 180 701 crossings of two."""
    alone = crossings_within([np.array([-1.0, 0.0, 2.0])] * 200, 10_000)
    wanted = {tuple(v if k == i else 0.0 for k in range(200)) for i in range(200) for v in (-1.0, 0.0, 2.0)}
    assert set(map(tuple, alone.tolist())) == wanted
    assert len(alone) == len(wanted)
    long = np.linspace(-1, 1, 101)
    assert crossings_within([long, np.array([3.0])], 100).tolist() == crossings([long, np.array([3.0])]).tolist()


def test_every_value_with_every_other_however_many_axes_there_are():
    """Independent: itertools; numpy's own grids end at 32 axes."""
    axes = [np.array([0.0, 1.0, 2.0]), *[np.array([7.0])] * 70, np.array([5.0, 6.0])]
    assert crossings(axes).tolist() == [list(row) for row in product(*axes)]
