"""Distances from a solid by balls that cover it, bounded from both sides; against closed forms."""

import numpy as np
import pytest

from assembly.clearance.removal.covering_balls import UnsettledError, Zone, bisected, covering_balls
from assembly.geometry.shapes import box

LOW, HIGH = np.array([-5.0, -4, -3]), np.array([5.0, 4, 3])
POINTS = np.random.default_rng(3).uniform(-9, 9, (4000, 3))


def signed_distance(points):
    """Of the box (closed form)."""
    off = np.maximum(LOW - points, points - HIGH)
    return np.linalg.norm(np.maximum(off, 0), axis=1) + np.minimum(off.max(axis=1), 0)


@pytest.mark.parametrize("least", [0.8, 2.0])
def test_no_point_is_told_nearer_or_farther_than_it_may_be(least):
    mesh = box(tuple((LOW + HIGH) / 2), tuple(HIGH - LOW))
    triangles = bisected(mesh.vertices[mesh.faces], 0.9)
    balls = covering_balls(mesh, triangles, 0.9, Zone(np.zeros((1, 3)), 20.0, 10.0), least)
    found, true = balls.looked_at(POINTS, 20.0), signed_distance(POINTS)
    near = np.maximum(true, 0.0)
    assert (balls.nearest_may_be(found.power) <= near + 1e-9).all()
    assert (found.within >= true - 1e-9).all()
    inside = near <= least
    assert (found.power[inside] <= least**2 + balls.slack + 1e-9).all()
    assert (found.power[~inside] >= true[~inside] ** 2 - 1e-9).all()
    assert (found.power[~inside] <= true[~inside] ** 2 + balls.slack + 1e-9).all()


def test_triangles_are_cut_until_no_side_is_longer():
    one = np.array([[[0.0, 0, 0], [7, 0, 0], [1, 2, 0]]])
    made = bisected(one, 0.8)
    sides = np.linalg.norm(made - np.roll(made, -1, axis=1), axis=2)
    areas = np.linalg.norm(np.cross(made[:, 1] - made[:, 0], made[:, 2] - made[:, 0]), axis=1) / 2
    assert sides.max() <= 0.8
    assert areas.sum() == pytest.approx(7.0)


def test_a_solid_that_is_too_large_to_be_looked_at_so_finely_is_refused():
    """Ten metres of a bar with balls for 0.1 mm would be thousands of millions of points."""
    mesh = box((0, 0, 0), (10_000, 1000, 1000))
    zone = Zone(np.array([[0.0, 0, 500]]), 20_000.0, 1.0)
    with pytest.raises(UnsettledError, match="too large to be looked at as finely"):
        covering_balls(mesh, mesh.vertices[mesh.faces], 20_000.0, zone, 0.1)
