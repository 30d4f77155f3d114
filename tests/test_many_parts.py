"""Machines of many parts: memory grows with the parts that hang together, and results are those of each part alone."""

import re
import tracemalloc
from contextlib import nullcontext
from dataclasses import replace

import numpy as np
import pytest
from many_parts import arms, cranks
from small_machines import read
from tries import first

from assembly.clearance.narrow_phase.checked_pairs import gather_pairs
from assembly.clearance.narrow_phase.pair_survey import survey_pairs
from assembly.cli import main
from assembly.errors import InputError
from assembly.geometry.sizes import _medians_without
from assembly.kinematics.assembling import assemble
from assembly.kinematics.bodies import gather_bodies
from assembly.kinematics.cell_motion import bound_motion
from assembly.kinematics.solver import solve
from assembly.parallel import workers as pool
from assembly.studies.inventory import inventory
from assembly.working_memory import MOST_OF_A_STACK, at_once, limited_to, share_among, size_text

DOUBLED = 2.3
"""No more than this many times the memory for twice the parts."""


def peak(do):
    """MiB in use at the most while ``do`` runs, over what was in use before (numpy tells tracemalloc of its arrays)."""
    tracemalloc.start()
    try:
        do()
        return tracemalloc.get_traced_memory()[1] / 2**20
    finally:
        tracemalloc.stop()


def spread(mechanism, count):
    """Settings all over the drives' ranges."""
    low, high = (np.array([getattr(d, end) for d in mechanism.machine.drives.values()]) for end in ("low", "high"))
    return low + np.linspace(0, 1, count)[:, None] * (high - low)


@pytest.mark.parametrize("text", first([arms, lambda count: cranks(count // 4)], 1))
def test_memory_of_putting_together_grows_with_the_parts(text):
    machines = [read(text(count)) for count in (32, 64)]
    few, many = (peak(lambda m=machine: inventory(m)) for machine in machines)
    assert many < DOUBLED * few


# brute force: every pair is sorted one by one
@pytest.mark.parametrize("extra", ["", 'pairs = [{ between = ["crank_0", "block_1"], ignore = "far apart" }]'])
def test_pairs_are_counted_as_they_are_gathered(extra):
    machine = read(
        cranks(2).replace("at = [0, 10.0, 30]", "at = [0, 10.0, 30]\nseat_radius = 8") + f"\n[clearance]\n{extra}\n"
    )
    bodies = gather_bodies(machine)
    gathered, survey = gather_pairs(machine, bodies), survey_pairs(machine, bodies)
    assert survey.checked == len(gathered.checked)
    assert survey.not_checked == gathered.not_checked
    assert survey.seats == tuple(pair for pair in gathered.checked if pair.seat)
    assert len(survey.seats) == 1
    assert len(survey.not_checked) == bool(extra)


# brute force: the medians of the others, one shape after another
@pytest.mark.parametrize("count", [2, 3, 6, 7])
def test_size_of_a_shape_is_held_against_the_median_of_all_others(count):
    values = np.random.default_rng(count).integers(0, 5, (count, 3)).astype(float)
    others = [np.median(np.delete(values, row, axis=0), axis=0) for row in range(count)]
    assert (_medians_without(values) == others).all()


@pytest.mark.parametrize("text", [arms, lambda count: cranks(count // 4, drives=False)])
def test_memory_of_postures_and_cells_grows_with_the_parts(text):
    few, many = (assemble(read(text(count))) for count in (16, 32))
    used = []
    for mechanism in (few, many):
        settings = spread(mechanism, 200)
        half = np.full_like(settings, 0.5)
        bound_motion(mechanism, mechanism.at_rest, half[:1])
        used.append(peak(lambda m=mechanism, s=settings, h=half: bound_motion(m, solve(m, s), h)))
    assert used[1] < DOUBLED * used[0]


# a small machine that stands alone is the independent answer: what stands beside it must change nothing
def test_parts_that_do_not_hang_together_are_bounded_as_each_alone():
    one, many = (assemble(read(cranks(count, drives=False))) for count in (1, 3))
    settings, half = spread(one, 9), np.full((9, 1), 1.5)
    alone, together = (bound_motion(m, solve(m, settings), half) for m in (one, many))
    assert alone.certified.all()
    assert together.certified.all()
    for name in ("shift_rate", "turn_rate", "shift_bend", "turn_bend", "shift_rest", "turn_rest", "turn"):
        own, every = getattr(alone, name), getattr(together, name)
        assert every[:, 1 : own.shape[1]] == pytest.approx(own[:, 1:], rel=1e-6, abs=1e-9)


# independent: numpy's pseudo-inverse of the whole matrix
def test_blocks_solve_what_the_whole_matrix_does():
    mechanism = assemble(read(cranks(2)))
    posture = solve(mechanism, np.array([[20.0, -25.0], [-3.0, 11.0]])).posture
    system, equations = mechanism.system, mechanism.equations
    slopes, whole = equations.slopes(posture), equations.jacobian(posture)
    right = np.random.default_rng(1).normal(size=(2, whole.shape[1], 3))
    right[:, np.setdiff1d(np.arange(whole.shape[1]), equations.needed)] = 0.0
    inverse = system.stacks.left_inverse(slopes)
    assert slopes.times(np.eye(whole.shape[2])[None].repeat(2, axis=0)) == pytest.approx(whole, abs=1e-12)
    assert system.stacks.times(inverse, whole) == pytest.approx(np.eye(whole.shape[2])[None].repeat(2, 0), abs=1e-9)
    assert system.solve(slopes, right) == pytest.approx(system.stacks.times(inverse, right), abs=1e-9)
    assert (system.loss.of(slopes, inverse) < 1e-9).all()


def test_limit_of_memory_makes_stacks_smaller_and_changes_nothing():
    mechanism = assemble(read(arms(16)))
    settings = spread(mechanism, 200)
    half, found, used = np.full_like(settings, 0.5), [], []
    for own, limit in ((mechanism, 10**9), (replace(mechanism), 3 * mechanism.system.bytes_each)):
        with limited_to(limit):
            used.append(peak(lambda own=own: found.append(bound_motion(own, solve(own, settings), half))))
    assert used[1] < 0.4 * used[0]
    for name in ("shift_rest", "turn_bend", "certified"):
        assert (getattr(found[0], name) == getattr(found[1], name)).all()
    assert (found[0].posture.rotations == found[1].posture.rotations).all()


def test_stack_takes_no_more_than_half_a_gigabyte_however_much_is_free():
    """Half of the free memory, 10 GB, was once filled by one stack of a machine of forty drives: a minute with no look
    at the clock."""
    with limited_to(10**12):
        assert at_once(10**6) == 500
        assert at_once(10**9) == 1
    with limited_to(10**8):
        assert at_once(10**6) == 100


@pytest.mark.parametrize("start", ["fork", "spawn"])
@pytest.mark.parametrize("limit", [900, None])
def test_workers_share_the_memory_that_is_allowed(monkeypatch, tmp_path, start, limit):
    """Each once took half of what is free, whatever --memory said to those that are not forked."""
    monkeypatch.setattr(pool, "START", start)
    with limited_to(limit) if limit else nullcontext(), pool.process_pool(3, tmp_path) as workers:
        whole = share_among(1).whole
        assert workers.submit(at_once, 1).result() == min(whole // 3, MOST_OF_A_STACK)
        assert workers.submit(at_once, whole, 5).result() == 1  # more than a share: one by one, and still worked on
        with pytest.raises(InputError, match="are allowed"):
            workers.submit(at_once, whole + 1).result()


def test_limit_that_not_one_posture_fits_in_is_refused(tmp_path, capsys):
    file = tmp_path / "arms.toml"
    file.write_text(arms(4))
    every = "sweep", str(file), "--out", str(tmp_path), "--no-picture", "--cores", "1"
    assert main([*every, "--memory", "2kB"]) == 2
    told = capsys.readouterr().err
    needed = re.search(r"takes (\d+ kB) to work on, and 2 kB are allowed.*--memory (\d+kB)", told, re.DOTALL)
    assert needed
    assert main([*every, "--memory", needed[2]]) == 0
    assert main([*every, "--memory", "much"]) == 2
    assert "'much' is no size; write 500MB" in capsys.readouterr().err


@pytest.mark.parametrize(("size", "text"), [(7, "7 B"), (1400, "1.4 kB"), (99_600, "100 kB"), (2 * 10**9, "2 GB")])
def test_size_of_memory_is_told_in_a_few_digits(size, text):
    assert size_text(size) == text
