"""The estimate of faceting error against closed forms and against the true distance of facets from their sphere."""

import math

import numpy as np
import pytest
from plain_meshes import ball, box, cylinder, prism

from assembly.geometry.facet_error import estimated_surface_error
from assembly.geometry.mesh import Mesh


def estimate(solid):
    return estimated_surface_error(Mesh(*solid)).largest


@pytest.mark.parametrize("sides", [10, 16, 32, 64, 300])
def test_a_cylinder_shows_its_sagitta(sides):
    """Closed form: r(1 − cos(π/n))."""
    assert estimate(cylinder(25, 40, sides)) == pytest.approx(25 * (1 - math.cos(math.pi / sides)), rel=1e-6)


def test_single_precision_does_not_disturb_it():
    vertices, faces = cylinder(25, 40, 64)
    rounded = (vertices + np.array([600, -300, 150])).astype(np.float32)
    assert estimate((rounded, faces)) == pytest.approx(25 * (1 - math.cos(math.pi / 64)), rel=0.02)


@pytest.mark.parametrize("splits", [3, 4, 5])
def test_a_ball_is_not_estimated_too_small_nor_more_than_double(splits):
    vertices, faces = ball(20, splits)
    shares = np.random.default_rng(5).dirichlet((1, 1, 1), 50)
    inside = np.einsum("sk,fki->sfi", shares, vertices[faces])
    true = 20 - np.linalg.norm(inside, axis=2).min()
    assert true < estimate((vertices, faces)) < 2 * true


@pytest.mark.parametrize("sides", [5, 6, 7, 8, 9])
def test_an_even_ring_of_few_sides_is_taken_for_the_round_that_it_may_stand_for(sides):
    """Closed form: r(1 − cos(π/n))."""
    assert estimate(cylinder(10, 40, sides)) == pytest.approx(10 * (1 - math.cos(math.pi / sides)), rel=1e-6)


def test_an_octahedron_is_taken_for_the_ball_round_it():
    """Closed form: its inner radius is its outer one over the root of 3."""
    true = 20 * (1 - 1 / math.sqrt(3))
    assert true <= estimate(ball(20, 0)) < 1.5 * true


def chamfered(wide):
    """A bar of 40 mm with its four edges cut off by ``wide`` mm, at 45 degrees."""
    a, b = 20, 20 - wide
    return prism([(b, -a), (a, -b), (a, b), (b, a), (-b, a), (-a, b), (-a, -b), (-b, -a)], 30)


@pytest.mark.parametrize("solid", [box((20, 30, 4)), box((20, 20, 20)), cylinder(10, 40, 4), chamfered(3)],
                         ids=["box", "cube", "square bar", "chamfered bar"])  # fmt: skip
def test_boxes_and_chamfers_are_taken_as_they_are(solid):
    assert estimate(solid) == 0


def test_a_single_fold_of_a_plate_is_no_curve():
    rise = 60 * math.tan(math.radians(20))
    folded = [(-60, 1), (-60, -1), (0, -1), (60, rise - 1), (60, rise + 1), (0, 1)]
    assert estimate(prism(folded, 30)) == 0


def test_a_rounded_corner_between_flat_sides_shows_the_sagitta_of_its_own_facets():
    """Closed form: facets of 9 degrees on radius 6 rise 6(1 − cos 4.5°); the wide flats do not add to it."""
    turn = np.deg2rad(np.linspace(0, 90, 11))
    arc = np.column_stack([44 + 6 * np.cos(turn), 44 + 6 * np.sin(turn)])
    outline = np.concatenate([[(-50, -50), (50, -50)], arc, [(-50, 50)]])
    true = 6 * (1 - math.cos(math.radians(4.5)))
    assert true * (1 - 1e-6) <= estimate(prism(outline, 20)) <= 2 * true
