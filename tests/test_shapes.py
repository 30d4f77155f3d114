"""Parametric shapes: closed, outward, of the right size and in the right place."""

import itertools

import numpy as np
import pytest
import trimesh
from manifold3d import Manifold, Mesh64
from oracles.brute_force import mesh_distance
from tries import first

import assembly.geometry.shapes as shapes
from assembly.geometry.rotations import rotation_about_axes
from assembly.geometry.shapes import (
    Hole,
    Slot,
    box,
    cone,
    hexagon,
    plate,
    plate_through,
    ring,
    rod,
    rod_end,
    sphere,
    tube,
    turned,
)
from assembly.geometry.shapes.facets import facets_round, sag

TILTED = np.array([2.0, -3.0, 6.0]) / 7
CORNER = [(0, 0, 0), (100, 0, 0), (100, 80, 0)]
ZIGZAG = [(0, 0, 0), (100, 0, 0), (100, 100, 20), (160, 150, 100), (160, 250, 90)]
SPOOL = [(0, 0), (0, 12), (4, 12), (4, 5), (20, 5), (20, 12), (24, 12), (24, 0)]
CAVITY = [(0, 0), (1, 0), (1, 2), (5, 2), (5, 0), (6, 0), (6, 4), (0, 4)]
LEVER = [(0, 0), (50, 0), (100, 0), (100, 30), (60, 30), (60, 70), (0, 70)]
ON_PLANE = {"at": (7, 8, 9), "normal": TILTED, "along": (1, 0, 0)}
HOLES = [Hole((20, 20), 16), Hole((80, 15), 10)]
SLOTS = [Slot((20, 55), (45, 50), 12), Slot((40, 20), (40, 30), 6)]


def ends(length, start=(3, -4, 5), along=TILTED):
    return [np.array(start), np.array(start) + length * np.array(along)]


SHAPES = {
    "box": (lambda: box((1, 2, 3), (10, 20, 30), rotation=rotation_about_axes((20, -30, 40))), 2),
    "rod": (lambda: rod(ends(100), diameter=20), 2),
    "rod through a straight corner": (lambda: rod([(0, 0, 0), (10, 10, 10), (30, 30, 30)], diameter=5), 2),
    "square rod": (lambda: rod(ends(100), square=20), 2),
    "flat bar": (lambda: rod(ends(100), rectangle=(30, 4), up=(1, 1, 0)), 2),
    "bent rod": (lambda: rod(CORNER, diameter=20, bend=30), 2),
    "rod bent four ways": (lambda: rod(ZIGZAG, diameter=12, bend=[20, 25, 30]), 2),
    "bends that use up their legs": (
        lambda: rod([(0, 0, 0), (30, 0, 0), (30, 60, 0), (60, 60, 0)], square=8, bend=30),
        2,
    ),
    "tube": (lambda: tube(ends(100), diameter=20, wall=2), 0),
    "square tube": (lambda: tube(ends(100), square=20, wall=2), 0),
    "tube bent four ways": (lambda: tube(ZIGZAG, diameter=12, wall=1.5, bend=20), 0),
    "bent rectangular tube": (lambda: tube(ZIGZAG, rectangle=(16, 10), wall=2, bend=25), 0),
    "plate": (lambda: plate(LEVER, 5, **ON_PLANE), 2),
    "plate with holes and slots": (lambda: plate(LEVER, 5, holes=HOLES, slots=SLOTS, **ON_PLANE), 2 - 2 * 4),
    "plate through points": (lambda: plate_through([(0, 0, 0), (90, 0, 30), (90, 60, 30), (0, 60, 0)], 6), 2),
    "sphere": (lambda: sphere((1, 2, 3), 25), 2),
    "cone": (lambda: cone(ends(30), (20, 0)), 2),
    "cone on its tip": (lambda: cone(ends(30), (0, 20)), 2),
    "frustum": (lambda: cone(ends(30), (20, 12)), 2),
    "ring": (lambda: ring((1, 2, 3), TILTED, diameter=100, thickness=20), 0),
    "turned": (lambda: turned(SPOOL, (1, 2, 3), TILTED), 2),
    "turned ring": (lambda: turned([(0, 5), (0, 9), (8, 9), (8, 5)], (1, 2, 3), TILTED), 0),
    "turned with a cavity": (lambda: turned(CAVITY, (1, 2, 3), TILTED), 4),
    "hexagon": (lambda: hexagon(ends(10), 13), 2),
    "nut": (lambda: hexagon(ends(6.5), 13, bore=8), 0),
    "eye": (lambda: rod_end((1, 2, 3), TILTED, (3, 2, 0), "M8").eye, 0),
    "ball": (lambda: rod_end((1, 2, 3), TILTED, (3, 2, 0), "M8").ball, 0),
    "shank": (lambda: rod_end((1, 2, 3), TILTED, (3, 2, 0), "M8").shank, 2),
}


@pytest.mark.parametrize("name", SHAPES)
def test_every_shape_is_closed_and_outward(name):
    make, euler = SHAPES[name]
    mesh = make()
    seen = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    assert seen.is_watertight
    assert seen.is_winding_consistent
    assert seen.volume > 0
    assert mesh.volume == pytest.approx(seen.volume, rel=1e-9)
    assert seen.euler_number == euler  # 2 for a ball, 0 for one hole through, 2 less for each further hole
    assert seen.area_faces.min() > 1e-6
    assert set(mesh.faces.ravel()) == set(range(len(mesh.vertices)))
    made = Manifold(Mesh64(np.array(mesh.vertices), np.array(mesh.faces, dtype=np.uint64)))
    assert made.status().name == "NoError"
    assert made.volume() == pytest.approx(mesh.volume, rel=1e-6)


@pytest.mark.parametrize("name", SHAPES)
def test_the_same_numbers_make_the_same_triangles(name):
    first, second = SHAPES[name][0](), SHAPES[name][0]()
    assert np.array_equal(first.vertices, second.vertices)
    assert np.array_equal(first.faces, second.faces)
    assert first.surface_error == second.surface_error


def test_all_names_are_importable():
    assert len(shapes.__all__) == len(set(shapes.__all__))
    assert all(hasattr(shapes, name) for name in shapes.__all__)


# Closed forms; Pappus's second theorem: volume = area of the section times the way of its centroid.
BENT_WAY = 100 + 80 - 2 * 30 + 30 * np.pi / 2
LEVER_AREA = 100 * 30 + 60 * 40
HOLES_AREA = np.pi * (8**2 + 5**2) + np.pi * (6**2 + 3**2) + 12 * np.hypot(25, 5) + 6 * 10
FLAT = {
    "box": (lambda: box((1, 2, 3), (10, 20, 30), rotation=rotation_about_axes((20, -30, 40))), 10 * 20 * 30),
    "square rod": (lambda: rod(ends(100), square=20), 20 * 20 * 100),
    "flat bar": (lambda: rod(ends(100), rectangle=(30, 4)), 30 * 4 * 100),
    "square tube": (lambda: tube(ends(100), square=20, wall=2), (20**2 - 16**2) * 100),
    "plate": (lambda: plate(LEVER, 5, **ON_PLANE), LEVER_AREA * 5),
    "plate through points": (
        lambda: plate_through([(0, 0, 0), (90, 0, 30), (90, 60, 30), (0, 60, 0)], 6),
        np.hypot(90, 30) * 60 * 6,
    ),
    "hexagon": (lambda: hexagon(ends(10), 13), np.sqrt(3) / 2 * 13**2 * 10),
}
CURVED = {  # maker of the mesh, volume in mm³, surface in mm²
    "rod": (lambda e: rod(ends(100), diameter=20, facet_error=e), np.pi * 100 * 100, 2 * np.pi * 10 * 110),
    "tube": (
        lambda e: tube(ends(100), diameter=20, wall=2, facet_error=e),
        np.pi * (10**2 - 8**2) * 100,
        2 * np.pi * 18 * 102,
    ),
    "bent rod": (
        lambda e: rod(CORNER, diameter=20, bend=30, facet_error=e),
        np.pi * 10**2 * BENT_WAY,
        2 * np.pi * 10 * (BENT_WAY + 10),
    ),
    "bent tube": (
        lambda e: tube(CORNER, diameter=20, wall=3, bend=30, facet_error=e),
        np.pi * (10**2 - 7**2) * BENT_WAY,
        2 * np.pi * 17 * (BENT_WAY + 3),
    ),
    "bent flat bar": (
        lambda e: rod(CORNER, rectangle=(20, 6), bend=30, facet_error=e),
        20 * 6 * BENT_WAY,
        52 * BENT_WAY + 2 * 20 * 6,
    ),
    "sphere": (lambda e: sphere((1, 2, 3), 25, facet_error=e), np.pi * 25**3 / 6, np.pi * 25**2),
    "cone": (
        lambda e: cone(ends(30), (20, 0), facet_error=e),
        np.pi * 100 * 30 / 3,
        np.pi * 10 * (10 + np.hypot(30, 10)),
    ),
    "frustum": (
        lambda e: cone(ends(30), (20, 12), facet_error=e),
        np.pi * 30 / 3 * (10**2 + 10 * 6 + 6**2),
        np.pi * (10**2 + 6**2 + 16 * np.hypot(30, 4)),
    ),
    "ring": (
        lambda e: ring((1, 2, 3), TILTED, diameter=100, thickness=20, facet_error=e),
        2 * np.pi * 40 * np.pi * 10**2,
        4 * np.pi**2 * 40 * 10,
    ),
    "turned": (
        lambda e: turned(SPOOL, (1, 2, 3), TILTED, facet_error=e),
        np.pi * (2 * 4 * 12**2 + 16 * 5**2),
        np.pi * (2 * 12**2 + 2 * (12**2 - 5**2) + 2 * 8 * 12 + 2 * 16 * 5),
    ),
    "turned with a cavity": (
        lambda e: turned(CAVITY, (1, 2, 3), TILTED, facet_error=e),
        np.pi * (6 * 4**2 - 4 * 2**2),
        np.pi * (2 * 4**2 + 2 * 6 * 4 + 2 * 2**2 + 2 * 4 * 2),
    ),
    "nut": (
        lambda e: hexagon(ends(6.5), 13, bore=8, facet_error=e),
        (np.sqrt(3) / 2 * 13**2 - np.pi * 4**2) * 6.5,
        np.pi * 8 * 6.5,
    ),
    "plate with holes and slots": (
        lambda e: plate(LEVER, 5, holes=HOLES, slots=SLOTS, facet_error=e, **ON_PLANE),
        (LEVER_AREA - HOLES_AREA) * 5,
        (np.pi * (16 + 10 + 12 + 6) + 2 * np.hypot(25, 5) + 2 * 10) * 5,
    ),
}


@pytest.mark.parametrize("name", FLAT)
def test_flat_faced_shapes_have_the_volume_of_the_closed_form_and_no_error(name):
    make, volume = FLAT[name]
    assert make().volume == pytest.approx(volume, rel=1e-12)
    assert make().surface_error == 0


@pytest.mark.parametrize("name", CURVED)
@pytest.mark.parametrize("wanted", [0.5, 0.03])
def test_curved_shapes_miss_the_volume_of_the_closed_form_by_no_more_than_their_error_over_the_surface(name, wanted):
    make, volume, area = CURVED[name]
    mesh = make(wanted)
    assert 0 < mesh.surface_error <= wanted
    assert abs(mesh.volume - volume) <= mesh.surface_error * area


def test_straight_rods_and_tubes_spend_few_triangles():
    count = facets_round(10, 0.02)
    assert len(rod(ends(1000), diameter=20).faces) == 2 * count + 2 * (count - 2)
    assert len(tube(ends(1000), diameter=20, wall=2).faces) == 8 * count


@pytest.mark.parametrize(
    ("make", "most"),
    [
        (lambda e: ring((0, 0, 0), (0, 1, 0), diameter=500, thickness=50, facet_error=e), 0.1),
        (lambda e: sphere((0, 0, 0), 500, facet_error=e), 0.1),
        (lambda e: tube(ZIGZAG, diameter=12, wall=1, bend=20, facet_error=e), 0.03),
    ],
    ids=["tyre", "globe", "bent tube"],
)
def test_doubly_curved_shapes_stay_affordable_and_own_up_to_the_error(make, most):
    mesh = make(0.001)
    assert len(mesh.faces) <= 20_000
    assert 0.001 < mesh.surface_error < most


def test_number_of_facets_follows_the_published_table():
    # REFERENCE_VALUES 5.12, closed form: least n for a sag of 0.01 mm; here the next multiple of four.
    for radius, least in {5: 50, 10: 71, 20: 100, 50: 158, 300: 385}.items():
        assert facets_round(radius, 0.01) == min(-(-least // 4) * 4, 360)
    for radius, count, depth in [(10, 32, 0.048153), (10, 64, 0.012045), (20, 64, 0.024091), (300, 128, 0.090354)]:
        assert sag(radius, np.pi / count) == pytest.approx(depth, abs=5e-7)
    assert facets_round(1, 5) == 12


def test_rods_and_bores_of_32_facets_give_the_published_faceted_distances():
    # REFERENCE_VALUES 5.7 and 5.13: facet to facet outside, half a facet out of step inside.
    half_facet = np.pi / 32
    turned_up = (np.sin(half_facet), 0, np.cos(half_facet))
    wanted = 0.0482

    def along_y(make, x, diameter, up, **more):
        return make([(x, 0, 0), (x, 40, 0)], diameter=diameter, up=up, facet_error=wanted, **more)

    first, second = along_y(rod, 0, 20, turned_up), along_y(rod, 25, 16, turned_up)
    distance = mesh_distance(first.vertices, first.faces, second.vertices, second.faces)
    assert distance == pytest.approx(7.086675, abs=5e-7)
    assert distance - first.surface_error - second.surface_error == pytest.approx(7, abs=1e-9)

    pin, bore = along_y(rod, 0, 16, turned_up), along_y(tube, 0, 20, (0, 0, 1), wall=1.9)
    distance = mesh_distance(pin.vertices, pin.faces, bore.vertices, bore.faces)
    assert distance == pytest.approx(0.060996, abs=5e-7)
    assert distance + bore.surface_error >= 0.1


@pytest.mark.parametrize(
    ("centre", "exact"),
    first([((0, 0, 25), 36.169906), ((30, 0, 20), 11.360680), ((70, 10, 5), 20.115041), ((40, 0, 15), 4.0)], 2),
)
def test_ring_and_sphere_are_as_far_apart_as_published_within_their_errors(centre, exact):
    # REFERENCE_VALUES 5.11: torus R40 r6 against a sphere of radius 5.
    tyre = ring((0, 0, 0), (0, 0, 1), diameter=92, thickness=12, facet_error=0.1)
    ball = sphere(centre, 10, facet_error=0.1)
    distance = mesh_distance(tyre.vertices, tyre.faces, ball.vertices, ball.faces)
    assert abs(distance - exact) <= tyre.surface_error + ball.surface_error + 1e-6


def test_spheres_and_a_rim_are_as_far_apart_as_published_within_their_errors():
    # REFERENCE_VALUES 5.1 and 5.9.
    first, second = sphere((0, 0, 0), 24, facet_error=0.05), sphere((30, 40, 0), 18, facet_error=0.05)
    distance = mesh_distance(first.vertices, first.faces, second.vertices, second.faces)
    assert 29 <= distance <= 29 + first.surface_error + second.surface_error
    post = rod([(0, 0, -20), (0, 0, 20)], diameter=20, facet_error=0.05)
    ball = sphere((20, 0, 30), 10, facet_error=0.05)
    distance = mesh_distance(post.vertices, post.faces, ball.vertices, ball.faces)
    assert 9.142135624 - 1e-9 <= distance <= 9.142135624 + post.surface_error + ball.surface_error


def test_tilted_ring_stands_as_low_as_published():
    # REFERENCE_VALUES 5.10: R40 r6 tilted by 30 degrees, centre at z = 50, to z = 0: 24.
    tilted = ring((0, 0, 50), (np.sin(np.radians(30)), 0, np.cos(np.radians(30))), diameter=92, thickness=12)
    assert 24 - 1e-9 <= tilted.bounds[0, 2] <= 24 + tilted.surface_error


@pytest.mark.parametrize(
    ("first", "second", "exact"),
    [
        (((40, 20, 10), (0, 0, 0)), ((20, 20, 10), (0, 0, 45), (60, 0, 0)), 25.857864376),
        (((40, 20, 10), (0, 0, 0)), ((20, 20, 10), (0, 0, 0), (50, 40, 30)), 34.641016151),
        (((60, 20, 20), (45, 0, 0)), ((60, 20, 20), (45, 0, 90), (0, 0, 40)), 11.715728753),
    ],
    ids=["corner to face", "corner to corner", "edge to edge"],
)
def test_boxes_are_as_far_apart_as_published(first, second, exact):
    # REFERENCE_VALUES 5.6: size, rotation and place of two boxes.
    first, second = (
        box(place[0] if place else (0, 0, 0), size, rotation=rotation_about_axes(rotated))
        for size, rotated, *place in (first, second)
    )
    distance = mesh_distance(first.vertices, first.faces, second.vertices, second.faces)
    assert distance == pytest.approx(exact, abs=1e-8)


def test_box_turns_about_its_own_centre():
    turned_box = box((10, 20, 30), (4, 6, 8), rotation=rotation_about_axes((0, 0, 90)))
    assert turned_box.bounds == pytest.approx(np.array([[7, 18, 26], [13, 22, 34]]))


@pytest.mark.parametrize("axis", list(itertools.chain(np.eye(3), -np.eye(3))))
def test_round_shapes_along_the_machine_axes_reach_their_full_size(axis):
    across = np.eye(3)[np.abs(axis) < 0.5]
    solids = [
        rod([(0, 0, 0), 50 * axis], diameter=20),
        cone([(0, 0, 0), 50 * axis], (20, 8)),
        ring((0, 0, 0), axis, diameter=20, thickness=4),
        sphere((0, 0, 0), 20),
        turned([(0, 0), (5, 10), (9, 0)], (0, 0, 0), axis),
    ]
    for solid in solids:
        for direction in (*across, *-across):
            assert (solid.vertices @ direction).max() == pytest.approx(10, abs=1e-9)


def test_section_height_points_up_and_width_across():
    lying = rod([(0, 0, 0), (100, 0, 0)], rectangle=(30, 4))
    assert lying.bounds == pytest.approx(np.array([[0, -15, -2], [100, 15, 2]]))
    standing = rod([(0, 0, 0), (0, 0, 100)], rectangle=(30, 4))
    assert standing.bounds == pytest.approx(np.array([[-2, -15, 0], [2, 15, 100]]))
    chosen = rod([(0, 0, 0), (100, 0, 0)], rectangle=(30, 4), up=(5, 1, 0))
    assert chosen.bounds == pytest.approx(np.array([[0, -2, -15], [100, 2, 15]]))


def test_section_is_carried_through_bends_without_twist():
    level = rod([(0, 0, 0), (100, 0, 0), (100, 100, 0), (0, 150, 0)], rectangle=(10, 6), bend=20)
    assert np.abs(level.vertices[:, 2]) == pytest.approx(3)
    rising = rod([(0, 0, 0), (100, 0, 0), (100, 0, 100)], rectangle=(10, 6), bend=20)
    assert np.abs(rising.vertices[:, 1]) == pytest.approx(5)
    assert rising.bounds[1] == pytest.approx([103, 5, 100])


def test_bent_rod_keeps_every_corner_of_its_facets_on_the_true_surface():
    # The true centre line of CORNER with radius 30: x to 70, the arc about (70, 30), y from 30.
    bent = rod(CORNER, diameter=20, bend=30)
    x, y, z = bent.vertices.T
    arc = np.hypot(np.hypot(x - 70, y - 30) - 30, z)
    away = np.where((x > 70) & (y < 30), arc, np.where(y < 30, np.hypot(y, z), np.hypot(x - 100, z)))
    assert away == pytest.approx(10, abs=1e-9)
    assert ((x > 70 + 1e-6) & (y < 30 - 1e-6)).sum() > 4 * facets_round(10, 0.01)


@pytest.mark.parametrize(("side", "low", "high"), [("middle", -2.5, 2.5), ("plus", 0, 5), ("minus", -5, 0)])
def test_plate_lies_on_its_side_of_the_drawn_plane(side, low, high):
    flat = plate(LEVER, 5, at=(1, 2, 3), normal=(0, 1, 0), along=(0, 0, 1), side=side)
    assert flat.bounds == pytest.approx(np.array([[1, 2 + low, 3], [71, 2 + high, 103]]))
    through = plate_through([(0, 0, 7), (9, 0, 7), (9, 9, 7)], 5, side=side)
    assert through.bounds == pytest.approx(np.array([[0, 0, 7 + low], [9, 9, 7 + high]]))


def test_plate_drawn_clockwise_or_closed_is_the_same_solid():
    plain = plate(LEVER, 5, **ON_PLANE)
    for outline in (LEVER[::-1], [*LEVER, LEVER[0]]):
        assert plate(outline, 5, **ON_PLANE).volume == pytest.approx(plain.volume, rel=1e-12)
        assert plate(outline, 5, **ON_PLANE).bounds == pytest.approx(plain.bounds)


def test_holes_may_be_placed_by_points_of_the_machine():
    by_plane = plate(LEVER, 5, at=(1, 2, 3), normal=(0, 1, 0), along=(0, 0, 1), holes=[Hole((20, 30), 8)])
    by_point = plate(LEVER, 5, at=(1, 2, 3), normal=(0, 1, 0), along=(0, 0, 1), holes=[Hole((31, 99, 23), 8)])
    assert by_point.vertices == pytest.approx(by_plane.vertices)
    corners = [(0, 0, 0), (60, 0, 0), (60, 0, 60), (0, 0, 60)]
    through = plate_through(corners, 4, holes=[Hole((20, 9, 30), 8)], slots=[Slot((40, 0, 20), (40, 0, 40), 6)])
    x, _, z = through.vertices.T
    assert np.isclose(np.hypot(x - 20, z - 30), 4).sum() == 2 * facets_round(4, 0.02)
    assert np.isclose(np.hypot(x - 40, z - 20), 3).sum() == 2 * (facets_round(3, 0.02) // 2 + 1)


def test_points_slightly_off_their_plane_count_into_the_surface_error():
    corners = [(0, 0, 0), (60, 0, 0), (60, 60, 0.008), (0, 60, 0)]
    assert 0.001 < plate_through(corners, 4).surface_error <= 0.008


def test_plates_with_aligned_corners_and_many_holes_stay_closed():
    rng = np.random.default_rng(4)
    for _ in range(25):
        columns, rows = rng.integers(2, 5, 2)
        width, height = 20 * columns, 20 * rows
        lower = [(x, 0) for x in range(0, width, 10)] + [(width, y) for y in range(0, height, 10)]
        upper = [(width - x, height - y) for x, y in lower]
        centres = [(10 + 20 * i, 10 + 20 * j) for i in range(columns) for j in range(rows)]
        drilled = [Hole(centre, rng.choice([4, 10, 19.9])) for centre in centres if rng.random() < 0.7]
        mesh = plate(lower + upper, 3, at=(0, 0, 0), normal=rng.normal(size=3), along=rng.normal(size=3), holes=drilled)
        seen = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
        assert seen.is_watertight
        assert seen.euler_number == 2 - 2 * len(drilled)
        removed = sum(np.pi * hole.diameter**2 / 4 for hole in drilled)
        assert mesh.volume == pytest.approx(3 * (width * height - removed), rel=0.02)


def test_hexagon_is_1_1547_times_as_wide_across_its_corners():
    # REFERENCE_VALUES 4.6: e = 2 s / sqrt(3), M5 to M12.
    for flats, corners in {8: 9.238, 10: 11.547, 13: 15.011, 16: 18.475, 18: 20.785}.items():
        nut = hexagon([(0, 0, 0), (5, 0, 0)], flats)
        size = nut.bounds[1] - nut.bounds[0]
        assert size == pytest.approx([5, corners, flats], abs=5e-4)
    turned_nut = hexagon([(0, 0, 0), (5, 0, 0)], 13, up=(0, 1, 0))
    assert turned_nut.bounds[1, 1] == pytest.approx(6.5)


def test_cone_is_wide_where_it_was_told_to_be():
    pointed = cone([(0, 0, 0), (0, 0, 30)], (0, 20))
    tip, base = (pointed.vertices[np.isclose(pointed.vertices[:, 2], z)] for z in (0, 30))
    assert tip == pytest.approx(np.zeros((1, 3)))
    assert np.linalg.norm(base[:, :2], axis=1).max() == pytest.approx(10)


def test_turned_profile_counts_along_the_axis_from_where_it_is_set():
    washer = turned([(2, 4), (2, 9), (5, 9), (5, 4)], (10, 0, 0), (-1, 0, 0))
    assert washer.bounds == pytest.approx(np.array([[5, -9, -9], [8, 9, 9]]))
    assert np.linalg.norm(washer.vertices[:, 1:], axis=1).min() == pytest.approx(4)


def test_ring_is_measured_over_all():
    tyre = ring((0, 0, 200), (0, 1, 0), diameter=400, thickness=40)
    assert tyre.bounds == pytest.approx(np.array([[-200, -20, 0], [200, 20, 400]]))
    assert np.hypot(tyre.vertices[:, 0], tyre.vertices[:, 2] - 200).min() == pytest.approx(160)
