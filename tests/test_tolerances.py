"""Worst cases are proven: closed forms, corner runs, random machines, and every kind of bound weakened once."""

from dataclasses import replace
from itertools import product
from math import cos, inf, radians, sin, sqrt

import numpy as np
import pytest
from tolerance_attack import attack, bounds_of, corners, distances, made, swept
from tolerance_machines import PEG, RAIL, arm_text, four_bar_text, read, rod_text, stack_text

from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.proof.measure_search import measured
from assembly.clearance.tolerances import alignment, as_built, frames, grown_pairs, growth, readings
from assembly.clearance.tolerances.worst_case import limits_search
from assembly.kinematics.assembling import assemble
from assembly.kinematics.measure_figures import measure_motion
from assembly.kinematics.solver import solve
from assembly.kinematics.travel import corner_norm
from assembly.model.general_tolerances import general_tolerance

FINE = Effort(bracket_mm=1e-3, bracket_share=0.0, cores=1)
STACKS = (
    # gap and worst case: a published worked example of a one-dimensional stack, then closed forms
    ((40, 0.10), [(25, 0.05), (2, 0.03), (10, 0.05)], 3.00, 0.23),
    ((4.020, 0.005), [(2.000, 0.005), (1.500, 0.003), (0.500, 0.002)], 0.020, 0.015),
    ((120, 0.1), [(10, 0.1)] * 9, 30.0, 1.0),
)


@pytest.mark.parametrize(
    ("size", "name", "allowed"),
    [
        # ISO 2768-1, table 1; the ends belong to the lower step
        (3, "m", 0.1),
        (3.01, "m", 0.1),
        (6.01, "m", 0.2),
        (-30, "f", 0.1),
        (120, "c", 0.8),
        (400.5, "v", 4.0),
        (4000, "m", 2.0),
        (2, "v", None),
        (2500, "f", None),
        (0.4, "m", None),
        (4001, "m", None),
    ],
)
def test_general_tolerances_are_those_of_the_standard(size, name, allowed):
    assert general_tolerance(size, name) == allowed


@pytest.mark.parametrize(("housing", "parts", "gap", "off"), STACKS)
def test_the_worst_case_of_a_stack_is_the_sum_of_its_tolerances(housing, parts, gap, off):
    proven = bounds_of(swept(read(stack_text(housing, parts))))["bed", "stack"]
    assert gap - off - 0.0025 <= proven <= gap - off + 1e-9


def test_unequal_limits_shift_the_worst_case():
    text = stack_text((40, "[-0.1, 0.3]"), [(37, "[0.05, 0.2]")])
    assert bounds_of(swept(read(text)))["bed", "stack"] == pytest.approx(3 - 0.1 - 0.2, abs=2.5e-3)


def test_where_joint_and_shapes_shift_together_only_the_gap_counts():
    """The arm goes with its pivot by 0.5, the wall stays: 170 - 150 - 0.5, less what its corner turns out."""
    proven = bounds_of(swept(read(arm_text()), FINE))["base", "arm"]
    turned = sqrt(50**2 + 5**2) * cos(radians(10) - np.arctan(5 / 50)) - 50
    assert proven == pytest.approx(19.5 - max(turned, sqrt(50**2 + 5**2) - 50), abs=2e-3)


def test_more_dimensions_than_corners_are_looked_at_of_are_added_up():
    """Ten dimensions set where the hinge is: the gap of 70 loses the tolerance of each, and what the arm turns out."""
    names = [f"d{number}" for number in range(10)]
    dimensions = "\n".join(f"{name} = {{ value = 10, plus_minus = 0.05 }}" for name in names)
    (proven,) = bounds_of(swept(read(arm_text(f'"{" + ".join(names)}"', dimensions)))).values()
    turned = sqrt(50**2 + 5**2) - 50
    assert 20 - 10 * 0.05 - turned - 0.4 <= proven <= 20 - 10 * 0.05 - turned + 1e-9


def test_what_many_drives_move_is_no_less_than_at_any_corner():
    """Sums against every one of 2^11 corners of random rates."""
    random = np.random.default_rng(8)
    rate, half = random.standard_normal((5, 11, 3)), random.uniform(0.1, 1, (5, 11))
    exact, bound = exact_of(rate, half), corner_norm(rate, half)
    assert (bound >= exact - 1e-9).all()
    assert (bound <= 1.6 * exact).all()
    assert np.allclose(corner_norm(rate[:, :8], half[:, :8]), exact_of(rate[:, :8], half[:, :8]))


def exact_of(rate, half):
    signs = np.array(list(product((1.0, -1.0), repeat=half.shape[1])))
    return np.linalg.norm(np.einsum("cd,nd,ndx->ncx", signs, half, rate), axis=-1).max(axis=1)


def test_corner_runs_of_a_four_bar_lie_inside_what_is_proven():
    """All 16 combinations of ends, each machine put together anew, over the crank's range."""
    machine = read(four_bar_text())
    drawn = assemble(machine)
    built = as_built.as_built(drawn, readings.Readings(machine, readings.tolerances_of(machine)))
    assert not built.refused
    spread = assemble(built.machine())
    (proven,) = measured(spread, limits_search(drawn, spread))
    settings, found = np.linspace(-10, 10, 9)[:, None], []
    for changes in corners(machine):
        own = made(machine, changes)
        found.append(measure_motion(own.machine.measures["rocker"], own).values(solve(own, settings).posture))
    least, most = np.min(found), np.max(found)
    assert proven.proven_least <= least
    assert most <= proven.proven_most
    # nor is it loose: the ends that random settings of the machine as built show are corners, to a few hundredths
    assert least - proven.proven_least < 0.05
    assert proven.proven_most - most < 0.05


ROD = {"across": 0.5, "along": 0.3}


@pytest.fixture(scope="module")
def rod():
    """A crank, a rod that can roll and a rocker, in three dimensions, and its worst case."""
    machine = read(rod_text(**ROD))
    return machine, swept(machine)


def test_corner_runs_in_space_lie_inside_what_is_proven(rod):
    machine, worst = rod
    proven, settings = bounds_of(worst), np.linspace(-20, 20, 9)[:, None]
    assert len(proven) == 6
    for changes in corners(machine):
        for names, found in distances(made(machine, changes), settings, proven).items():
            assert found >= proven[names]


def test_random_machines_never_come_nearer_than_is_proven(rod):
    assert attack(*rod, machines=12, seed=1) >= 0


def test_a_seat_is_left_out_only_where_it_is_drilled():
    """As drawn the peg is in the seat; with the pivot 1 mm away it stands 1 mm below the arm."""
    machine = read(PEG)
    worst = swept(machine)
    assert bounds_of(worst)["plate", "arm"] <= 1.0
    assert attack(machine, worst, 8, 1) >= 0


def without_length(drawn, own, ends):
    found = alignment.alignments(drawn, own, ends)
    return {part: replace(one, lengthened=0 * one.lengthened) for part, one in found.items()}


def without_rest(drawn, own, ends):
    found = alignment.alignments(drawn, own, ends)
    return {part: replace(one, rest=0.0) for part, one in found.items()}


SQUARE = arm_text('"100 + 25 * (reach - 100)**2"', "reach = { value = 100, plus_minus = 0.2 }")
STACK = stack_text(*STACKS[0][:2])
BASE = ("base", "rocker")
OWN_LENGTH = 'set_length = { from = "a", to = "b", is = "length" }'
MUTATIONS = {
    "growth": (STACK, growth, "farthest", lambda corners_, ends: 0.0, None, None),
    "frames": (arm_text(), frames.PartFrames, "drives", None, None, None),
    "rest": (SQUARE, readings, "SURE", 0.0, None, None),
    "length of a rod": (rod_text(0, 0.5), as_built, "alignments", without_length, FINE, BASE),
    "turn of a rod": (rod_text(3).replace(OWN_LENGTH, ""), as_built, "alignments", without_rest, FINE, BASE),
    "seat": (PEG, grown_pairs.Pieces, "_shift", lambda *given: 0.0, None, None),
}


@pytest.mark.parametrize("kind", MUTATIONS)
def test_a_bound_that_takes_off_too_little_is_seen(kind, monkeypatch):
    text, where, name, weak, effort, names = MUTATIONS[kind]
    machine = read(text)
    if kind == "frames":
        whole = frames.PartFrames.drives
        weak = lambda self, ranges: whole(self, ranges / 2)  # noqa: E731 - one line among others
    with monkeypatch.context() as patched:
        patched.setattr(where, name, weak)
        worst = swept(machine, effort or Effort(cores=1), names)
    assert attack(machine, worst, 8, 1) < 0
    assert 0 <= attack(machine, swept(machine, effort or Effort(cores=1), names), 8, 1) < inf


@pytest.mark.parametrize(
    ("text", "why"),
    [
        (arm_text('"round(reach)"'), "has kinks or jumps where a tolerance is in it"),
        (
            arm_text()
            .replace("along = [0, 0, 1]", 'along = ["p", "q"]')
            .replace("[points]", '[points]\np = [0, 0, 0]\nq = [0, "reach / 50", 100]'),
            "turns the line of joint hinge",
        ),
        (
            rod_text().replace('is = "length"', 'is = "length", plus_minus = 0.1'),
            "the tolerance of the set_length of rod is counted only as that of a dimension",
        ),
        (arm_text().replace("[-10, 10]", '[-10, "reach / 10"]'), "changes the range of drive swing"),
    ],
)
def test_what_is_not_bounded_is_told_and_nothing_proven(text, why):
    worst = swept(read(text))
    assert why in worst.refused[0]
    assert not bounds_of(worst)


def test_a_rule_that_varies_is_not_proven():
    worst = swept(read(arm_text() + '[clearance]\nrequired = "reach / 100"\n'))
    ((pair, one),) = worst.pairs.items()
    assert one.proven is None
    assert one.why == "the clearance that base and arm must keep varies with reach"
    assert pair.required < inf


@pytest.mark.parametrize(
    ("off", "dimensions", "most"),
    [
        ("a * b", {"a": (0, 4), "b": (0, 4)}, 16.0),
        ("a * sin(b)", {"a": (300, 40), "b": (0, 1)}, 340 * sin(radians(1))),
        ("a * b * c", {"a": (0, 3), "b": (0, 3), "c": (0, 3)}, 27.0),
    ],
    ids=["product", "arm of a lean", "three"],
)
def test_dimensions_that_alone_move_nothing_count_together(off, dimensions, most):
    """Closed form: a product is farthest off at the ends of its factors. The gap as drawn is 30."""
    lines = [f"{name} = {{ value = {value}, plus_minus = {by} }}" for name, (value, by) in dimensions.items()]
    bed = "[parts.bed]\nfixed = true\nshapes = [{ box = [45, 0, 0], size = [10, 60, 60] }]"
    stack = f'[parts.stack]\nshapes = [{{ box = ["{off}", 0, 0], size = [20, 20, 20] }}]'
    machine = read("\n".join(["[dimensions]", *lines, bed, stack, RAIL]))
    assert bounds_of(swept(machine))["bed", "stack"] <= 30 - most + 1e-9
