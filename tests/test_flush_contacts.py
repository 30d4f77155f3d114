"""Solids that lie flush on each other, touch along edges and corners or share slivers never stop a check."""

from pathlib import Path

import numpy as np
import pytest
from plain_meshes import volume
from tries import first

from assembly.clearance.narrow_phase.checked_pairs import Solid
from assembly.clearance.narrow_phase.distance import CollisionModel
from assembly.clearance.narrow_phase.overlap import overlap_at
from assembly.clearance.narrow_phase.pair_result import Effort, Verdict
from assembly.geometry.mesh import Mesh
from assembly.geometry.rotations import pose_matrix, rotation_from_vector
from assembly.geometry.shapes import box, hexagon, plate, rod, sphere, tube
from assembly.geometry.solids import difference, intersection, union
from assembly.model.reader import read_machine
from assembly.studies.sweep.check import check

CASES = Path(__file__).resolve().parent / "cases"
SHAPES = {
    "box": box([0, 0, 0], [20, 24, 16]),
    "hexagon": hexagon([[-2.5, 0, 0], [2.5, 0, 0]], across_flats=13),
    "plate": plate([(-15, -10), (15, -10), (15, 10), (-15, 10)], 4, at=(0, 0, 0), normal=(0, 0, 1), along=(1, 0, 0)),
    "rod": rod([[0, 0, -10], [0, 0, 10]], diameter=8),
    "tube": tube([[0, 0, -10], [0, 0, 10]], diameter=12, wall=2),
    "ball": sphere([0, 0, 0], 14, facet_error=0.2),
}
TRIES = 4


def touching(first, second, chance):
    """``second`` flush on ``first``: on a whole face, a shifted one, an edge or a corner, or off by some 1e-9 mm.

    Both stand as one anywhere, turned anyhow, so that rounding makes slivers of what lies flush.
    """
    axis = int(chance.integers(3))
    shift = np.zeros(3)
    shift[axis] = first.bounds[1][axis] - second.bounds[0][axis]
    kind, other = int(chance.integers(4)), (axis + 1) % 3
    if kind == 1:
        shift[other] = chance.uniform(-8, 8)
    if kind >= 2:
        shift[other] = first.bounds[1][other] - second.bounds[0][other]
    if kind == 3:
        shift += 1e-9 * chance.integers(-3, 4, 3)
    world = pose_matrix(
        rotation_from_vector(chance.normal(size=3) * chance.integers(0, 2)), chance.uniform(-300, 300, 3)
    )
    return first.moved(world), second.moved(world @ pose_matrix(None, shift))


@pytest.mark.parametrize("seed", first([12, 14], 1))
@pytest.mark.parametrize("name", SHAPES)
def test_flush_solids_share_nothing_and_cut_nothing(name, seed):
    """Closed form: what lies flush shares no volume, and cutting or uniting it changes none."""
    chance = np.random.default_rng(seed)
    for other in SHAPES:
        for _ in range(TRIES):
            first, second = touching(SHAPES[name], SHAPES[other], chance)
            assert volume(intersection(first, second)) == pytest.approx(0, abs=1e-4)
            left = difference(first, [second])
            assert volume(left) == pytest.approx(first.volume, abs=1e-4)
            assert volume(union([left, second])) == pytest.approx(first.volume + second.volume, abs=1e-4)


def test_the_overlap_of_flush_solids_is_told_and_has_no_depth():
    chance = np.random.default_rng(13)
    still = np.eye(4)
    for name, other in zip(list(SHAPES) * 3, chance.permutation(list(SHAPES) * 3), strict=True):
        first, second = (
            CollisionModel(Solid(mesh, ("one",), (0,), (mesh,)))
            for mesh in touching(SHAPES[name], SHAPES[other], chance)
        )
        told = overlap_at(first, second, still, still, (0.0,))
        assert told.depth == pytest.approx(0, abs=0.02)
        assert told.volume == pytest.approx(0, abs=1e-4)
        assert np.isfinite([*told.direction, *told.where]).all()


def test_a_sliver_left_by_rounding_is_no_hollow():
    """A flat tetrahedron, inside out and 1e-9 mm thick, beside a box: closed form, the box's volume is all there is."""
    sliver = np.array([[30, 0, 0], [40, 0, 0], [30, 10, 0], [30, 0, 1e-9]], dtype=float)
    outward = np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]])
    block = box([0, 0, 0], [20, 20, 20])
    both = Mesh(np.concatenate([block.vertices, sliver]), np.concatenate([block.faces, outward[:, ::-1] + 8]))
    assert volume(both) == pytest.approx(8000, abs=1e-6)


def test_a_nut_flush_on_a_flat_fails_by_the_whole_clearance():
    """Closed form: half of 13 mm across flats is the face's 6.5 mm, so they touch and 1 mm is missing."""
    checked = check(read_machine(CASES / "nut_flush_on_flat.toml"), Effort(), lambda *_: None)
    (found,) = checked.found
    assert found.result.verdict is Verdict.FAILS
    assert found.room == pytest.approx(-1, abs=0.01)


def test_a_shoe_flush_with_a_floor_is_checked():
    """Closed form: at rest the sole is 55 mm high and the shoe 280, so it stands through the floor at 116."""
    checked = check(read_machine(CASES / "flat_shoe_through_flat_floor.toml"), Effort(), lambda *_: None)
    assert {found.result.verdict for found in checked.found} == {Verdict.FAILS}
