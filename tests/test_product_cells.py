"""Pairs that different drives move are bounded by the cells of either alone."""

import tracemalloc

import numpy as np
import pytest
from leaf_attack import attack_leaves
from mutations import weakened
from small_machines import read
from watched_sweep import drives_of, swept

from assembly.clearance.narrow_phase.pair_result import Effort, Verdict
from assembly.clearance.proof.cell_groups import CellGroups
from assembly.clearance.proof.first_settings import SETTINGS, first_settings
from assembly.clearance.proof.lower_bound import Method
from assembly.kinematics.assembling import assemble
from assembly.kinematics.travel import corner_norm

QUICK = Effort(decide_only=True)
PITCH, SIZE, STROKE = 100.0, 20.0, 5.0


BED = """
format = 1
name = "Sliders"
[parts.bed]
fixed = true
shapes = [{ box = [0, 0, -500], size = [9, 9, 9] }]
"""
BLOCK = """
[parts.block_{number}]
shapes = [{{ box = [{x}, 0, 0], size = [{SIZE}, {SIZE}, {SIZE}] }}]
[joints.slide_{number}]
slide = ["bed", "block_{number}"]
at = [{x}, 0, 0]
along = [1, 0, 0]
[drives.push_{number}]
slides = {{ slide_{number} = 1 }}
range = [-{STROKE}, {STROKE}]
"""


def sliders(count, pitch=PITCH):
    """Blocks in a row, each on a slide of its own along the row."""
    blocks = [BLOCK.format(number=number, x=pitch * number, SIZE=SIZE, STROKE=STROKE) for number in range(count)]
    return read("".join([BED, *blocks]))


def apart(run):
    return [state.search for state in run.result.states if state.search and state.search.apart]


def test_cells_are_made_over_the_drives_of_either_alone():
    few, many = swept(sliders(3), QUICK), swept(sliders(6), QUICK)
    assert [drives_of(cells) for cells in many.groups.made] == [(f"push_{number}",) for number in range(6)]
    assert {cells.motion.shift_bend.shape[1:4] for cells in many.groups.made} == {(2, 1, 1)}
    assert many.groups.count == 2 * few.groups.count
    assert len(apart(many)) == 15
    assert all(pair.verdict is Verdict.CLEAR for pair in many.result.pairs)


def test_what_is_proven_of_two_blocks_is_the_gap_at_the_ends_of_both_strokes():
    run = swept(sliders(2), QUICK)
    (pair,) = (pair for pair in run.result.pairs if pair.pair.a != "bed")
    gap = PITCH - SIZE - 2 * STROKE  # closed form
    assert pair.proven == pytest.approx(gap, abs=1e-3)
    assert pair.proven <= gap
    budget = pair.error_budget
    assert np.array(budget.at) + budget.half == pytest.approx([STROKE, 2 * budget.half[1] - STROKE])


def test_blocks_that_come_near_get_cells_over_both_drives():
    run = swept(sliders(2, pitch=32.0), QUICK)
    (pair,) = (pair for pair in run.result.pairs if pair.pair.a != "bed")
    assert pair.verdict is Verdict.CLEAR
    near = swept(sliders(2, pitch=29.0), QUICK)
    assert ("push_0", "push_1") in [drives_of(cells) for cells in near.groups.made]
    assert Verdict.FAILS in [pair.verdict for pair in near.result.pairs]


def test_a_bound_of_products_that_takes_off_too_little_is_seen():
    def broken():
        run, random = swept(sliders(2), QUICK), np.random.default_rng(0)
        return {near.method for _ in range(12) for near in attack_leaves(run, random, 20)}

    assert broken() == set()
    with weakened(Method.SWEPT_BOXES):
        assert broken() == {Method.SWEPT_BOXES}


FIVE_BAR = """
format = 1
name = "Five bars"
[parts.bed]
fixed = true
shapes = [{ box = [45, 0, -90], size = [9, 9, 9] }]
[parts.left]
shapes = [{ rod = [[0, 0, 0], [-10, 50, 0]], square = 4 }]
[parts.right]
shapes = [{ rod = [[90, 0, 0], [100, 50, 0]], square = 4 }]
[parts.left_bar]
shapes = [{ rod = [[-10, 50, 0], [45, 105, 0]], square = 4 }]
[parts.right_bar]
shapes = [{ rod = [[100, 50, 0], [45, 105, 0]], square = 4 }]
[joints.a]
pin = ["bed", "left"]
at = [0, 0, 0]
along = [0, 0, 1]
[joints.b]
pin = ["bed", "right"]
at = [90, 0, 0]
along = [0, 0, 1]
[joints.c]
pin = ["left", "left_bar"]
at = [-10, 50, 0]
along = [0, 0, 1]
[joints.d]
pin = ["right", "right_bar"]
at = [100, 50, 0]
along = [0, 0, 1]
[joints.e]
pin = ["left_bar", "right_bar"]
at = [45, 105, 0]
along = [0, 0, 1]
[drives.one]
turns = { a = 1 }
range = [-5, 5]
[drives.other]
turns = { b = 1 }
range = [-5, 5]
"""
"""Either crank has a drive of its own, and the bars between them hang on both."""


def test_where_cells_over_both_drives_are_made_in_any_case_they_bound_the_pair():
    mechanism = assemble(read(FIVE_BAR))
    groups, body_of = CellGroups(mechanism), mechanism.bodies.body_of
    assert [drives_of(cells) for cells in groups.of_blocks()] == [("one", "other")]
    assert groups.of_each(body_of["left"], body_of["right"]) is None
    apart = assemble(sliders(2))
    assert CellGroups(apart).of_each(*(apart.bodies.body_of[f"block_{k}"] for k in (0, 1))) is not None


def test_corners_are_those_along_which_a_cell_has_a_width():
    rate, half = np.zeros((1, 24, 3)), np.zeros((1, 24))
    rate[0, 3], rate[0, 7], half[0, 3] = (3.0, 4.0, 0.0), (9.0, 9.0, 9.0), 0.5
    tracemalloc.start()
    longest = corner_norm(rate, half)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert longest == pytest.approx([2.5])  # closed form
    assert peak < 1e6


def test_first_settings_grow_with_the_drives_and_hold_every_end():
    settings = first_settings(assemble(sliders(16)))
    assert len(settings) <= SETTINGS
    assert (settings.min(axis=0) == -STROKE).all()
    assert (settings.max(axis=0) == STROKE).all()
    assert (settings == 0).all(axis=1).any()
