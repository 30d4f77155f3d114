"""The oracles of the other tests, held against published numbers, closed forms and a second method."""

import itertools

import numpy as np
import pytest
import trimesh
from oracles.brute_force import mesh_distance, point_triangle_distance, segment_distance, triangle_distance
from scipy.optimize import nnls
from tries import first

EXACT = 1e-12


def prism(sides, radius, length, start=0.0):
    """A closed prism along z whose corners lie on the circle, the first at ``start`` rad."""
    angles = start + 2 * np.pi * np.arange(sides) / sides
    ring = np.stack([radius * np.cos(angles), radius * np.sin(angles), np.zeros(sides)], axis=1)
    half = np.array([0, 0, length / 2])
    vertices = np.concatenate([ring - half, ring + half])
    faces = [(0, k + 1, k) for k in range(1, sides - 1)] + [
        (sides, sides + k, sides + k + 1) for k in range(1, sides - 1)
    ]
    for k in range(sides):
        n = (k + 1) % sides
        faces += [(k, n, sides + k), (n, sides + n, sides + k)]
    return vertices, np.array(faces)


def box(x, y, z):
    mesh = trimesh.creation.box((x, y, z))
    return np.array(mesh.vertices), np.array(mesh.faces)


def turned(axis, degrees):
    angle = np.radians(degrees)
    return trimesh.transformations.rotation_matrix(angle, axis)[:3, :3]


def between(first, second, turn=None, shift=(0.0, 0.0, 0.0)):
    """Distance of two (vertices, faces), the second turned, then shifted."""
    turn = np.eye(3) if turn is None else turn
    return mesh_distance(*first, second[0] @ turn.T + np.array(shift), second[1])


def cap(ball, towards):
    """The facets of a ball that have a corner within 30° of a direction.

    Others, of balls of 12 and 9 mm with their middles 50 mm apart, are over 30 mm from the other ball (closed form).
    """
    leans = ball.vertices @ (np.array(towards) / np.linalg.norm(towards)) / np.linalg.norm(ball.vertices, axis=1)
    return ball.vertices, ball.faces[(leans > np.cos(np.radians(30)))[ball.faces].any(axis=1)]


# REFERENCE_VALUES 5.1: closed form |c| - r1 - r2; the figure for the facets measured with another program
def test_facets_of_two_balls_read_a_little_more_than_the_true_gap():
    first = trimesh.creation.icosphere(subdivisions=4, radius=12.0)
    second = trimesh.creation.icosphere(subdivisions=4, radius=9.0)
    measured = between(cap(first, (30, 40, 0)), cap(second, (-30, -40, 0)), shift=(30, 40, 0))
    assert measured == pytest.approx(29.008987, abs=1e-6)
    assert measured >= np.hypot(30, 40) - 12 - 9


# REFERENCE_VALUES 5.2: Ericson, Real-Time Collision Detection, 5.1.9
@pytest.mark.parametrize(
    ("first", "second", "expected"),
    [
        pytest.param([(0, 0, 0), (100, 0, 0)], [(20, 30, 40), (80, -30, 40)], 40.0, id="crossing over"),
        pytest.param([(0, 0, 0), (100, 0, 0)], [(130, 40, 0), (130, 40, 50)], 50.0, id="end to end"),
        pytest.param([(0, 0, 0), (100, 0, 0)], [(50, 0, 30), (150, 0, 30)], 30.0, id="parallel"),
        pytest.param([(0, 0, 0), (100, 0, 0)], [(130, 0, 40), (200, 0, 40)], np.hypot(30, 40), id="parallel, apart"),
        pytest.param([(-10, 0, 0), (10, 0, 0)], [(0, -10, 5), (0, 10, 5)], 5.0, id="square"),
        pytest.param([(3, 4, 0), (3, 4, 0)], [(0, 0, 0), (0, 0, 0)], 5.0, id="two points"),
        pytest.param([(3, 4, 0), (3, 4, 0)], [(0, 0, 0), (10, 0, 0)], 4.0, id="point and line"),
    ],
)
def test_segments(first, second, expected):
    assert segment_distance(first, second) == pytest.approx(expected, abs=EXACT)
    assert segment_distance(second[::-1], first) == pytest.approx(expected, abs=EXACT)


# REFERENCE_VALUES 5.3 and 5.4: Eberly, Robust computation of distance between line segments
@pytest.mark.parametrize(
    ("first", "second", "expected"),
    [
        pytest.param(
            [(-1.0896217473782599, 9.7236145595088601e-7, 0), (0.91220578597858548, -9.4369829432107506e-7, 0)],
            [(-0.90010447502136237, 9.0671446351334441e-7, 0), (1.0730877178721130, -9.8185787633992740e-7, 0)],
            1.15750461385741e-7,
            id="nearly parallel",
        ),
        pytest.param(
            [
                (0.77998990099877119, 0.61192502360790968, -0.22703111823648214),
                (0.53215344529598951, 0.85724585503339767, -0.10102437809109688),
            ],
            [
                (-0.21277333982288837, 0.35091548087075353, -0.49557160679250956),
                (0.11881479667499661, 0.022494725417345762, -0.66426620958370951),
            ],
            0.98292397116488739,
            id="in space",
        ),
    ],
)
def test_segments_that_mislead_the_plain_formula(first, second, expected):
    assert segment_distance(first, second) == pytest.approx(expected, rel=1e-10)


# REFERENCE_VALUES 5.5: Eberly lists 9.73e-10 for segments that cross, where the exact value is 0; own numbers here
@pytest.mark.parametrize("slant", [1.0, 1e-3, 1e-6, 1e-8])
def test_crossing_segments_have_no_distance_however_flat_they_cross(slant):
    middle = np.array([0.1, 0.7, -0.3])
    first, second = np.array([1.0, slant, 0.3]), np.array([1.0, -slant, 0.3])
    assert segment_distance(middle + np.outer([-1, 2], first), middle + np.outer([-2, 1], second)) < 1e-8


# REFERENCE_VALUES 5.6: closed form
@pytest.mark.parametrize(
    ("degrees", "shift", "expected"),
    [
        pytest.param(45, (60, 0, 0), 60 - 20 - np.sqrt(200), id="edge to face"),
        pytest.param(0, (50, 40, 30), np.sqrt(20**2 + 20**2 + 20**2), id="corner to corner"),
    ],
)
def test_boxes(degrees, shift, expected):
    turn = turned([0, 0, 1], degrees)
    assert between(box(40, 20, 10), box(20, 20, 10), turn, shift) == pytest.approx(expected, abs=1e-9)


# REFERENCE_VALUES 5.6: closed form
def test_crossed_bars_on_edge():
    vertices, faces = box(60, 20, 20)
    bar = vertices @ turned([1, 0, 0], 45).T, faces
    assert between(bar, bar, turned([0, 0, 1], 90), (0, 0, 40)) == pytest.approx(40 - 20 * np.sqrt(2), abs=1e-9)


# REFERENCE_VALUES 5.7: closed form, flat facets facing each other
@pytest.mark.parametrize("sides", first([16, 32, 64], 1))
def test_parallel_cylinders_read_too_far_by_the_sag_of_both(sides):
    half = np.pi / sides
    apart = between(prism(sides, 10, 50, half), prism(sides, 8, 50, half), shift=(25, 0, 0))
    assert apart == pytest.approx(25 - (10 + 8) * np.cos(np.pi / sides), abs=1e-9)


# REFERENCE_VALUES 5.8: closed form, axis distance less both radii whatever the angle
@pytest.mark.parametrize("degrees", first([35, 10, 90], 1))
def test_skew_cylinders_read_their_axis_distance_less_the_radii(degrees):
    sides = 64
    apart = between(prism(sides, 10, 200), prism(sides, 8, 200), turned([1, 0, 0], degrees), (30, 0, 0))
    assert 30 - 10 - 8 <= apart <= 30 - 10 - 8 + (10 + 8) * (1 - np.cos(np.pi / sides))


def test_surfaces_that_cross_have_no_distance():
    assert between(box(10, 10, 10), box(10, 10, 10), turned([1, 2, 3], 25), (4, 3, 2)) < EXACT


def test_a_surface_inside_another_keeps_its_distance():
    assert between(box(10, 10, 10), box(2, 2, 2)) == pytest.approx((10 - 2) / 2, abs=EXACT)


def test_leaving_out_far_pairs_changes_nothing():
    for seed in range(50):
        random = np.random.default_rng(seed)
        size = 10 ** random.uniform(-1, 1, size=(2, 6, 1, 1))
        first, second = size * random.normal(size=(2, 6, 3, 3)) + 10 * random.normal(size=(2, 6, 1, 3))
        faces = np.arange(18).reshape(6, 3)
        every = min(triangle_distance(a, b) for a, b in itertools.product(first, second))
        given = mesh_distance(first.reshape(-1, 3), faces, second.reshape(-1, 3), faces)
        assert given == pytest.approx(every, abs=EXACT)


def test_a_surface_without_triangles_is_refused():
    with pytest.raises(ValueError, match="triangles"):
        mesh_distance(*box(1, 1, 1), np.empty((0, 3)), np.empty((0, 3), dtype=int))


def hull_distance(first, second, weight=1e4):
    """Distance of the hulls of two point sets by non-negative least squares, each set's shares adding up to 1."""
    rows = np.concatenate([first.T, -second.T], axis=1)
    sums = np.kron(np.eye(2), weight * np.ones(3))
    shares, _ = nnls(np.concatenate([rows, sums]), np.array([0, 0, 0, weight, weight]))
    return np.linalg.norm(shares[:3] @ first / shares[:3].sum() - shares[3:] @ second / shares[3:].sum())


def triangles(seed, kind):
    """Pairs of triangles: anywhere, one nearly flat to the other's plane, or one drawn out to a sliver."""
    random = np.random.default_rng(seed)
    first, second = random.normal(size=(2, 3, 3)) + random.normal(size=(2, 1, 3))
    if kind == "coplanar":
        first[:, 2], second[:, 2] = 0.0, 1e-9 * second[:, 2]
        spin = np.linalg.qr(random.normal(size=(3, 3)))[0]
        first, second = first @ spin, second @ spin
    if kind == "sliver":
        first[2] = first[0] + 0.3 * (first[1] - first[0]) + 1e-7 * first[2]
    return first, second


@pytest.mark.parametrize("kind", ["anywhere", "coplanar", "sliver"])
def test_triangles_agree_with_non_negative_least_squares(kind):
    pairs = [triangles(seed, kind) for seed in range(300)]
    measured = np.array([triangle_distance(*pair) for pair in pairs])
    assert measured == pytest.approx([hull_distance(*pair) for pair in pairs], abs=2e-6)
    assert 0.1 < np.mean(measured > 1e-3) < 1.0, "the sample must hold both apart and crossing triangles"


def test_the_order_of_triangles_and_corners_does_not_matter():
    for seed, order in itertools.product(range(20), itertools.permutations(range(3))):
        first, second = triangles(seed, "anywhere")
        assert triangle_distance(second, first[list(order)]) == pytest.approx(
            triangle_distance(first, second), abs=EXACT
        )


def test_a_point_over_beside_and_on_a_triangle():
    triangle = [(0, 0, 0), (10, 0, 0), (0, 10, 0)]
    assert point_triangle_distance((2, 3, 4), triangle) == pytest.approx(4, abs=EXACT)
    assert point_triangle_distance((-3, 5, 4), triangle) == pytest.approx(5, abs=EXACT)
    assert point_triangle_distance((2, 3, 0), triangle) == pytest.approx(0, abs=EXACT)
