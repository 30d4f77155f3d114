"""Cells of drives and rolls: rolls are cut only where boxes round what a part fills at any roll prove too little."""

from functools import cache
from math import hypot
from pathlib import Path

import numpy as np
import pytest
from leaf_attack import attack_leaves
from mutations import half_turned
from scipy.spatial.transform import Rotation
from watched_sweep import swept

from assembly.clearance.narrow_phase.bounding_balls import outline_turned
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.proof.cell_groups import CellGroups
from assembly.clearance.proof.lower_bound import Method
from assembly.kinematics.assembling import assemble
from assembly.kinematics.cell_motion import bound_motion
from assembly.model.reader import machine_from_text

CASES = Path(__file__).resolve().parent / "cases"
LUG, BENT = ((CASES / f"{name}.toml").read_text() for name in ("rolling_rod_with_lug", "bent_rod_rolls"))
QUICK = Effort(decide_only=True)
OUT_OF_REACH = LUG.replace("28, 115]", "28, 145]")
"""The walls' faces stand 140 mm off the rod's line, beyond the lug's 120 mm."""


def rolling_pieces(run):
    pieces = (piece for state in run.result.states for piece in state.search.pieces)
    return [piece for piece in pieces if piece.rolls]


@cache
def out_of_reach():
    return swept(machine_from_text(OUT_OF_REACH, CASES), QUICK)


def broken(run):
    return {near.method for near in attack_leaves(run, np.random.default_rng(0), 30)}


# closed form: the lug's corners turn on circles of radius hypot(120, 3) about the rod's line, which stays where it is
def test_what_no_roll_brings_near_is_proven_without_a_cell_that_is_cut_along_the_roll():
    run = out_of_reach()
    least = 140 - hypot(120, 3)
    assert least - 0.05 < min(piece.proven for piece in rolling_pieces(run)) <= least
    for piece in rolling_pieces(run):
        cells = run.groups.within(piece.search.reduced).rolled(piece.rolls).between(piece.a.body, piece.b.body)
        assert cells.too_wide(np.arange(len(cells))).all()


def test_what_a_roll_brings_near_is_cut_along_the_roll():
    run = swept(machine_from_text(LUG.replace("misalignment = 12", "misalignment = 1.5"), CASES), QUICK)
    near = min(rolling_pieces(run), key=lambda piece: piece.proven)
    cells = run.groups.within(near.search.reduced).rolled(near.rolls).between(near.a.body, near.b.body)
    assert not cells.too_wide(near.tiling.ids).all()


def test_a_room_that_leaves_out_some_of_the_rolls_is_seen():
    assert broken(out_of_reach()) == set()
    with half_turned():
        assert broken(swept(machine_from_text(OUT_OF_REACH, CASES), QUICK)) == {Method.SWEPT_BOXES}


# independent: the corners are turned by scipy's rotations; a corner in the middle of its slice is held tightly
def test_an_outline_turned_holds_every_corner_at_every_roll():
    rng = np.random.default_rng(3)
    corners, at = rng.normal(size=(60, 3)) * (40, 8, 5), np.array([3.0, -2.0, 1.0])
    along = np.array([2.0, 1.0, 2.0]) / 3
    held = outline_turned(corners, at, along)
    for degrees in rng.uniform(-180, 180, 40):
        turned = at + Rotation.from_rotvec(np.deg2rad(degrees) * along).apply(corners - at)
        apart = np.linalg.norm(turned[:, None] - held.points, axis=2) - held.radii
        assert apart.min(axis=1).max() <= 1e-9
    one = outline_turned(np.array([[5.0, 3.0, 4.0]]), np.zeros(3), np.array([1.0, 0.0, 0.0]))
    assert (one.points, one.radii) == (pytest.approx(np.array([[5.0, 0, 0]])), pytest.approx([5.0]))


# independent: bounds made anew, of the machine with the roll as one more setting, from the postures of the cells
def test_cells_that_are_cut_have_the_bounds_of_their_settings():
    groups = CellGroups(assemble(machine_from_text(BENT, CASES)))
    cells = groups.rolled((0,)).of((0, 1))
    roots = cells.roots[:2]
    children = cells.split(roots, np.ones(2, dtype=np.intp)).reshape(-1)
    ninths = cells.split(children, np.ones(len(children), dtype=np.intp)).reshape(-1)
    every = cells.split(ninths, np.zeros(len(ninths), dtype=np.intp)).reshape(-1)
    own, anew = cells.motion.take(every), bound_motion(cells.mechanism, cells.solved(every), cells.motion.half[every])
    assert own.certified.any()
    assert (own.certified == anew.certified).all()
    for name in ("shift_rate", "turn_rate", "shift_bend", "turn_bend", "shift_rest", "turn_rest", "turn"):
        assert getattr(own, name) == pytest.approx(getattr(anew, name), rel=1e-6, abs=1e-9)
    covered = (2 * own.half / cells.span).prod(axis=1).sum()
    assert covered == pytest.approx((2 * cells.motion.half[roots] / cells.span).prod(axis=1).sum())
