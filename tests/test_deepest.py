"""How deep two shapes stand in each other, at one setting and over a range: closed forms and brute force."""

from pathlib import Path

import numpy as np
import pytest
from scipy.spatial import ConvexHull
from small_machines import quiet, read, slider

from assembly.clearance.narrow_phase.checked_pairs import Solid
from assembly.clearance.narrow_phase.distance import CollisionModel, meets
from assembly.clearance.narrow_phase.overlap import overlap_at
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.narrow_phase.penetration import penetration
from assembly.geometry.mesh import joined
from assembly.geometry.rotations import pose_matrix, rotation_from_vector
from assembly.geometry.shapes import box, cone, hexagon, rod, tube
from assembly.model.reader import read_machine
from assembly.studies.sweep.check import check

CASES = Path(__file__).resolve().parent / "cases"
STILL = np.eye(4)
FACETS = 0.05
"""mm that both shapes' facets may stand off their true surfaces."""


def part(**shapes):
    solids = tuple(shapes.values())
    starts = np.cumsum([0, *[len(solid.faces) for solid in solids[:-1]]])
    return CollisionModel(Solid(joined(solids), tuple(shapes), tuple(int(start) for start in starts), solids))


def brute_depth(first, second):
    """The nearest facet of the hull of all differences of corners: the depth of two convex solids."""
    return float((-ConvexHull((first[:, None] - second[None]).reshape(-1, 3)).equations[:, 3]).min())


def test_depth_of_random_convex_solids_is_that_of_all_their_differences():
    chance = np.random.default_rng(3)
    for _ in range(40):
        first, second = (chance.normal(size=(12, 3)) * chance.uniform(5, 20, 3) for _ in range(2))
        second = second + chance.normal(size=3) * 4
        found, true = penetration(first, second), brute_depth(first, second)
        if true > 0:
            assert found.least - 1e-9 <= true <= found.depth + 1e-9
            assert found.depth == pytest.approx(true, abs=2e-3)


@pytest.mark.parametrize(
    ("first", "second", "shift", "depth"),
    [
        # Closed forms: two rods side by side, two that cross, a box in a box by the least of its ways out.
        (rod([(0, 0, -20), (0, 0, 20)], diameter=10), rod([(0, 0, -20), (0, 0, 20)], diameter=6), (3, 0, 0), 5 + 3 - 3),
        (rod([(-40, 0, 0), (40, 0, 0)], diameter=10), rod([(0, -40, 0), (0, 40, 0)], diameter=8), (2, 3, 1), 5 + 4 - 1),
        (box((0, 0, 0), (40, 40, 40)), box((0, 0, 0), (10, 12, 14)), (11, 0, 0), 20 + 5 - 11),
    ],
)
def test_depth_of_plain_shapes(first, second, shift, depth):
    told = overlap_at(part(one=first), part(two=second), STILL, pose_matrix(None, shift), (0.0,))
    assert told.depth == pytest.approx(depth, abs=FACETS)
    moved = pose_matrix(None, np.add(shift, (told.depth + FACETS) * np.array(told.direction)))
    assert not meets(part(one=first), part(two=second), STILL, moved)


def test_depth_of_a_rod_in_the_wall_of_a_tube_is_the_way_back_into_the_bore():
    """Closed form: bore 20, rod 8, 8 mm off the middle: 8 + 4 - 10 mm into a wall that is 6 mm thick."""
    wall = tube([(0, 0, -30), (0, 0, 30)], diameter=32, wall=6)
    told = overlap_at(
        part(one=wall),
        part(two=rod([(0, 0, -40), (0, 0, 40)], diameter=8)),
        STILL,
        pose_matrix(None, (8, 0, 0)),
        (0.0,),
    )
    assert told.depth == pytest.approx(2, abs=2 * FACETS)
    assert told.direction == pytest.approx((-1, 0, 0), abs=0.1)


def test_depth_does_not_hang_on_how_the_two_stand_together():
    chance = np.random.default_rng(4)
    one, two = (
        part(one=hexagon([(0, 0, 0), (0, 0, 8)], across_flats=17)),
        part(two=cone([(0, 0, 0), (0, 0, 30)], (20, 6))),
    )
    depths = []
    for _ in range(6):
        world = pose_matrix(rotation_from_vector(chance.normal(size=3)), chance.normal(size=3) * 200)
        depths.append(overlap_at(one, two, world, world @ pose_matrix(None, (6, 1, -5)), (0.0,)).depth)
    assert np.ptp(depths) < 5e-3


def test_the_shape_that_is_swallowed_and_its_host_are_named_with_a_place_inside():
    """A pill of 10 mm wholly inside a block of 60, while two other shapes of the same parts all but touch."""
    host = part(near=box((50, 0, 0), (10, 10, 10)), block=box((0, 0, 0), (60, 60, 60)))
    guest = part(neighbour=box((60.1, 0, 0), (10, 10, 10)), pill=box((5, 5, 5), (10, 10, 10)))
    told = overlap_at(host, guest, STILL, STILL, (0.0,))
    assert (told.shape_a, told.shape_b, told.inside) == ("block", "pill", "b")
    assert np.abs(np.subtract(told.where, 5)).max() < 5  # inside the pill
    assert told.depth == pytest.approx(30 - 5 + 5)  # closed form: from the pill's far face to the block's nearest


def test_two_pins_that_pass_through_each_other_are_half_of_both_diameters_deep():
    """Closed form: (4 + 6)/2 = 5.00 mm at 23.3°, however coarse the steps; the first line of the file says so."""
    result = check(read_machine(CASES / "strike_between_steps.toml"), Effort(), quiet).found[0].result
    assert result.overlap.depth == pytest.approx(5.0, abs=FACETS)
    assert 5.0 <= result.overlap.at_most <= 5.0 + 0.15
    assert result.overlap.at[0] == pytest.approx(23.3, abs=0.05)
    assert (result.overlap.shape_a, result.overlap.shape_b) == ("fixed pin", "moving pin")


TWO_DRIVES = """
format = 1
name = "Two slides"
facet_error = 0.2

[parts.base]
fixed = true
shapes = [
  {{ name = "ball", sphere = [{x}, {y}, 0], diameter = 30 }},
  {{ name = "foot", box = [0, 0, -90], size = [20, 20, 5] }},
]

[parts.saddle]
shapes = [{{ name = "saddle", box = [0, 0, -60], size = [5, 5, 5] }}]

[parts.tool]
shapes = [{{ name = "tip", sphere = [0, 0, 0], diameter = 10 }}, {{ name = "arm", box = [0, 0, 60], size = [4, 4, 4] }}]

[joints.across]
slide = ["base", "saddle"]
at = [0, 0, -60]
along = [1, 0, 0]

[joints.up]
slide = ["saddle", "tool"]
at = [0, 0, 0]
along = [0, 1, 0]

[drives.x]
slides = {{ across = 1 }}
range = [-100, 100]

[drives.y]
slides = {{ up = 1 }}
range = [-100, 100]
"""


def test_two_drives_find_the_deepest_however_small_the_place():
    """Closed form: balls of 30 and 10 mm with one centre are 20 mm deep; few settings of the range show it."""
    x, y = at = 57.3, -41.9
    results = check(read(TWO_DRIVES.format(x=x, y=y)), Effort(), quiet).found
    overlap = next(one.result.overlap for one in results if one.result.overlap)
    assert overlap.depth == pytest.approx(20, abs=0.4)  # the facets of both stand off by 0.2
    assert overlap.at == pytest.approx(at, abs=0.1)
    assert 20 - 1e-6 <= overlap.at_most <= 20.9


def test_what_is_proven_of_the_depth_holds_at_every_setting_of_a_fine_grid():
    """A plate on a swinging arm passes askew through a post; every setting's depth by the hull of all differences."""
    machine = read_machine(CASES / "strike_between_steps.toml")
    result = check(machine, Effort(), quiet).found[0].result
    post, arm = (
        next(s for s in machine.parts[name].shapes if "pin" in s.name).mesh.vertices for name in ("post", "arm")
    )
    depths = []
    for degrees in np.linspace(18, 29, 111):
        turned = rotation_from_vector(np.array([0, 0, np.radians(degrees)]))
        depths.append(brute_depth(post, arm @ turned.T))
    assert max(depths) <= result.overlap.at_most
    assert max(depths) == pytest.approx(result.overlap.depth, abs=0.06)


def test_a_pair_that_never_moves_is_as_deep_as_it_is_drawn():
    """Closed form: a board that reaches from 8 into a post's face at 10."""
    fixed = """
[parts.post]
fixed = true
shapes = [{ name = "post", box = [200, 0, 0], size = [20, 20, 40] }]
[parts.shelf]
fixed = true
shapes = [{ name = "board", box = [218, 0, 0], size = [20, 20, 4] }]
"""
    overlap = check(read(slider(extra=fixed)), Effort(), quiet).found[0].result.overlap
    assert (overlap.depth, overlap.at_most) == pytest.approx((2, 2), abs=1e-5)
