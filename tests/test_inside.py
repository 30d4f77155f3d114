"""Winding numbers against closed forms: 1 inside, 0 outside, and the solid angle of what is open."""

import math

import numpy as np
import pytest
from plain_meshes import ball, box, cube, inward, together

from assembly.geometry.inside import contains, encloses, winding_number
from assembly.geometry.mesh import Mesh

CENTRE = np.zeros((1, 3))


def mesh(solid):
    return Mesh(*solid)


def test_the_middle_of_a_cube_is_inside_once_and_a_far_point_not_at_all():
    points = np.array([[0, 0, 0], [9, 9, 9], [11, 0, 0], [5000, 0, 0]])
    assert winding_number(points, mesh(cube(20))) == pytest.approx([1, 1, 0, 0], abs=1e-12)


def test_a_cube_without_one_side_winds_five_sixths_round_its_middle():
    vertices, faces = cube(20)
    assert winding_number(CENTRE, Mesh(vertices, faces[2:])) == pytest.approx([5 / 6], abs=1e-12)


@pytest.mark.parametrize(("a", "b", "h"), [(10, 10, 1e-6), (10, 30, 4), (2, 3, 200)])
def test_a_rectangle_takes_its_solid_angle(a, b, h):
    vertices, faces = box((a, b, 2))
    top = faces[np.all(vertices[faces][:, :, 2] > 0, axis=1)]
    point = np.array([[0, 0, 1 + h]])
    # closed form: the solid angle of an a×b rectangle seen from h above its middle
    angle = 4 * math.atan(a * b / (2 * h * math.sqrt(4 * h * h + a * a + b * b)))
    assert winding_number(point, Mesh(vertices, top)) == pytest.approx([-angle / (4 * math.pi)], rel=1e-9)


def test_hollows_count_zero_overlaps_twice_and_inside_out_negative():
    hollow = together(cube(40), inward(cube(10)))
    doubled = together(cube(40), cube(10))
    assert winding_number(CENTRE, mesh(hollow)) == pytest.approx([0], abs=1e-12)
    assert winding_number(CENTRE, mesh(doubled)) == pytest.approx([2], abs=1e-12)
    assert winding_number(CENTRE, mesh(inward(cube(40)))) == pytest.approx([-1], abs=1e-12)
    assert contains(mesh(hollow), [[0, 0, 0], [0, 0, 12]]).tolist() == [False, True]
    assert contains(mesh(inward(cube(40))), CENTRE).all()


def test_random_points_of_a_ball_are_told_apart_by_their_radius():
    radius, splits = 8.0, 4
    vertices, faces = ball(radius, splits)
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    normals = np.cross(b - a, c - a)
    deepest = (np.einsum("ij,ij->i", a, normals) / np.linalg.norm(normals, axis=1)).min()
    points = np.random.default_rng(7).uniform(-10, 10, (3000, 3))
    far = np.linalg.norm(points, axis=1)
    sure = (far < deepest) | (far > radius)
    assert sure.mean() > 0.95
    assert np.array_equal(contains(Mesh(vertices, faces), points)[sure], (far < deepest)[sure])


def test_blocks_of_points_and_facets_change_nothing(monkeypatch):
    solid = mesh(ball(8, 3))
    points = np.random.default_rng(3).uniform(-9, 9, (50, 3))
    whole = winding_number(points, solid)
    monkeypatch.setattr("assembly.geometry.inside._BLOCK", 37)
    assert winding_number(points, solid) == pytest.approx(whole, abs=1e-12)


def test_points_on_corners_edges_and_facets_give_finite_numbers():
    points = np.array([[10, 10, 10], [10, 10, 0], [10, 3, 1], [10, 0, 0]])
    assert np.isfinite(winding_number(points, mesh(cube(20)))).all()


def test_the_empty_solid_contains_nothing():
    assert not contains(Mesh(np.empty((0, 3)), np.empty((0, 3))), CENTRE).any()
    assert contains(mesh(cube(2)), np.empty((0, 3))).shape == (0,)


def test_a_swallowed_cube_is_enclosed_and_a_neighbour_is_not():
    """TC-07d, worked example, own model: surfaces 15 mm apart, yet one solid lies in the other."""
    outer, inner = mesh(cube(40)), mesh(cube(10))
    assert encloses(outer, inner)
    assert not encloses(inner, outer)
    assert not encloses(outer, mesh(cube(10, (20, 0, 0))))


def test_a_point_is_wound_round_alike_alone_and_among_many():
    solid = mesh(ball(10, 4))
    points = np.random.default_rng(7).uniform(-12, 12, (200, 3))
    together = winding_number(points, solid)
    assert len(points) * len(solid.vertices) > 2**16 > len(solid.vertices)
    alone = [winding_number(point[None], solid)[0] for point in points]
    assert alone == pytest.approx(together.tolist(), abs=1e-12)
