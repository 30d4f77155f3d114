"""The surface error of cut solids: closed forms at wedges, and the true edges of round solids against the facets."""

from math import cos, radians, sin, sqrt

import numpy as np
import pytest
from plain_distances import to_triangles
from plain_meshes import box, cube
from tries import first

from assembly.geometry.mesh import Mesh
from assembly.geometry.shapes import rod, sphere, tube
from assembly.geometry.solids import difference, intersection

FAR = 1000.0
ROUNDING = 1e-9
RUNS = 15
POINTS = 60


def mesh(solid, error=0.0):
    return Mesh(*solid, error)


def beyond(normal, height):
    """A box that fills all the room of a small part where ``normal`` · point > ``height``."""
    frame = np.linalg.qr(np.column_stack([normal, np.eye(3)]))[0]
    frame[:, 0] = normal / np.linalg.norm(normal)
    frame[:, 2] *= np.linalg.det(frame)
    vertices, faces = box((FAR, FAR, FAR), (FAR / 2 + height, 0, 0))
    return Mesh(vertices @ frame.T, faces)


def wedge_of(degrees, e, f):
    """A block with its top face at z = 0, error e, from which a tool with error f leaves a wedge of that angle."""
    block = mesh(box((300, 40, 40), (150, 0, -20)), e)
    normal = np.array([-sin(radians(degrees)), 0.0, -cos(radians(degrees))])
    tool = beyond(normal, float(normal[0] * 20))
    return block, Mesh(tool.vertices, tool.faces, f)


@pytest.mark.parametrize("degrees", [20, 45, 70, 90])
@pytest.mark.parametrize(("e", "f"), [(0.01, 0.0), (0.0, 0.01), (0.01, 0.02)])
def test_the_edge_of_a_wedge_moves_as_its_faces_do(degrees, e, f):
    """Closed form: faces out by e and f move an edge of interior angle w by √(e² + f² + 2 e f cos w)/sin w."""
    block, tool = wedge_of(degrees, e, f)
    w = radians(degrees)
    moved = pytest.approx(sqrt(e**2 + f**2 + 2 * e * f * cos(w)) / sin(w))
    assert difference(block, [tool]).surface_error == moved
    assert difference(block, [mesh(cube(10, (200, 0, 0))), tool]).surface_error == moved
    kept = beyond(*((sin(w), 0, cos(w)), 20 * sin(w)))
    assert intersection(block, Mesh(kept.vertices, kept.faces, f)).surface_error == moved


def test_a_tip_where_a_cut_leans_across_a_sharp_edge_counts_though_no_two_faces_are_as_sharp():
    """A square bar on its corner, slit by a plane 20° from its upper edge: faces meet the plane at 90° - asin(...)."""
    turned = np.array([[1, 0, 0], [0, 1, -1], [0, 1, 1]]) / np.array([[1], [sqrt(2)], [sqrt(2)]])
    bar = Mesh(cube(20)[0] @ turned.T, cube(20)[1], 0.01)
    w = radians(20)
    normal = np.array([-sin(w), 0.0, -cos(w)])
    left = difference(bar, [beyond(normal, float(normal @ (-5, 0, 10 * sqrt(2))))])
    assert left.surface_error == pytest.approx(0.01 / sin(w))


def test_a_cut_of_plane_faces_adds_no_error():
    assert difference(mesh(cube(20)), [mesh(cube(20, (9, 8, 7)))]).surface_error == 0


def test_a_cut_that_misses_adds_no_error():
    assert difference(mesh(cube(20), 0.01), [mesh(cube(4), 0.03), mesh(cube(4, (50, 0, 0)))]).surface_error == 0.03


@pytest.mark.parametrize("made", [
    lambda: difference(tube([(0, 0, 0), (200, 0, 0)], diameter=40, wall=3),
                       [rod([(x, 0, -30), (x, 0, 0)], diameter=9) for x in range(20, 200, 20)]),
    lambda: difference(rod([(0, 0, 0), (200, 0, 0)], diameter=25), [beyond((1.0, 0, 0), 100.0)]),
], ids=["tube with nine holes", "rod sawn square"])  # fmt: skip
def test_a_cut_near_a_right_angle_adds_little(made):
    """Where the holes pierce the tube its wall is a wedge of 90° - asin(4.5/20) = 77°, less the steps of both."""
    assert made().surface_error < 1.8 * 0.02


def true_edges_of_a_sawn_rod(rng):
    """A rod along x, radius r, sawn off by a random plane: its true edges on the round and on the end faces."""
    r, length, error = rng.uniform(2, 30), 60.0, rng.choice([0.005, 0.02, 0.1])
    normal = rng.normal(size=3)
    normal /= np.linalg.norm(normal)
    reach = r * np.hypot(normal[1], normal[2])
    height = normal[0] * length / 2 + rng.uniform(-0.9, 0.98) * reach
    bar = rod([(0, 0, 0), (length, 0, 0)], diameter=2 * r, facet_error=error)
    angles = rng.uniform(0, 2 * np.pi, POINTS)
    y, z = r * np.cos(angles), r * np.sin(angles)
    x = (height - normal[1] * y - normal[2] * z) / normal[0]
    edges = [np.column_stack([x, y, z])[(x >= 0) & (x <= length)]]
    for end in (0.0, length):
        low = (height - normal[0] * end) / np.hypot(normal[1], normal[2])
        if abs(low) < r:
            middle = np.array([end, *(low * normal[1:] / np.hypot(normal[1], normal[2]))])
            aside = np.array([0, -normal[2], normal[1]]) / np.hypot(normal[1], normal[2])
            edges.append(middle + np.sqrt(r**2 - low**2) * np.array([[-1.0], [1.0]]) * aside)
    return difference(bar, [beyond(normal, height)]), np.concatenate(edges)


def true_edges_of_a_cut_ball(rng):
    """A ball cut by a plane: the true edge is a circle of radius √(r² - h²)."""
    r, error = rng.uniform(2, 30), rng.choice([0.005, 0.02, 0.1])
    height = rng.uniform(-0.97, 0.97) * r
    angles = rng.uniform(0, 2 * np.pi, POINTS)
    ring = np.sqrt(r**2 - height**2)
    edge = np.column_stack([np.full(POINTS, height), ring * np.cos(angles), ring * np.sin(angles)])
    return difference(sphere((0, 0, 0), 2 * r, facet_error=error), [beyond((1.0, 0, 0), height)]), edge


def true_edges_of_a_cross_drilled_rod(rng):
    """A rod along x, radius r, drilled along z, radius q, off its middle by y: (q cos t, y + q sin t, ±√(r² - y²))."""
    r, error = rng.uniform(5, 30), rng.choice([0.005, 0.02, 0.1])
    q = rng.uniform(0.2, 0.9) * r
    off = rng.uniform(-0.9, 0.9) * (r - q)
    bar = rod([(-80, 0, 0), (80, 0, 0)], diameter=2 * r, facet_error=error)
    drill = rod([(0, off, -90), (0, off, 90)], diameter=2 * q, facet_error=error)
    angles = rng.uniform(0, 2 * np.pi, POINTS)
    x, y = q * np.cos(angles), off + q * np.sin(angles)
    z = np.sqrt(r**2 - y**2) * rng.choice([-1, 1], POINTS)
    return difference(bar, [drill]), np.column_stack([x, y, z])


@pytest.mark.parametrize("case", first([
    true_edges_of_a_cross_drilled_rod, true_edges_of_a_sawn_rod, true_edges_of_a_cut_ball,
], 1))  # fmt: skip
def test_no_true_edge_lies_farther_from_the_facets_than_stated(case):
    rng = np.random.default_rng(11)
    shares = []
    for _ in range(RUNS):
        cut, edges = case(rng)
        shares.append(to_triangles(edges, cut).max(initial=0.0) / cut.surface_error)
    assert max(shares) <= 1 + ROUNDING
    assert max(shares) > 0.2, "the bound is needlessly wide"
