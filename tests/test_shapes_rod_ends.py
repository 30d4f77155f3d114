"""Rod ends: the dimensions of the table, measured off the triangles, and the tilt that ball and eye allow."""

import numpy as np
import pytest
from oracles.brute_force import mesh_distance
from tries import first

from assembly.geometry.shapes import ROD_END_SIZES, ROD_END_SOURCE, rod_end, rod_end_size, turned

# REFERENCE_VALUES 3, an open table of standard parts: d, B, C1, d3, D2, h, and dk computed there.
TABLE = {
    "M5": (5, 8, 6, 7.7, 18, 33, 11.104),
    "M6": (6, 9, 6.8, 8.9, 20, 36, 12.657),
    "M8": (8, 12, 9, 10.4, 24, 42, 15.880),
    "M10": (10, 14, 10.5, 12.9, 28, 48, 19.037),
    "M12": (12, 16, 12, 15.4, 32, 54, 22.207),
    "M14": (14, 19, 13.5, 16.8, 36, 60, 25.362),
    "M16": (16, 21, 15, 19.3, 42, 66, 28.522),
}
CENTRE = np.array([10.0, 20.0, 30.0])


def upright(size, **dimensions):
    """Bolt along x, shank up: (eye, ball, shank) vertices about the centre."""
    made = rod_end(CENTRE, (0, 0, 1), (1, 0, 0), size, **dimensions)
    return [mesh.vertices - CENTRE for mesh in (made.eye, made.ball, made.shank)]


def radii(points):
    return np.hypot(points[:, 1], points[:, 2])


@pytest.mark.parametrize("size", TABLE)
def test_sizes_measured_off_the_triangles_are_those_of_the_table(size):
    bore, ball_width, housing_width, ball_face, eye_diameter, length, ball_diameter = TABLE[size]
    eye, ball, shank = upright(size)
    assert 2 * eye[:, 0].max() == pytest.approx(housing_width)
    assert -2 * eye[:, 0].min() == pytest.approx(housing_width)
    assert 2 * radii(eye).max() == pytest.approx(eye_diameter)
    assert np.ptp(ball[:, 0]) == pytest.approx(ball_width)
    face = ball[np.isclose(ball[:, 0], ball_width / 2)]
    assert 2 * radii(face).max() == pytest.approx(ball_face)
    assert 2 * radii(ball).min() == pytest.approx(bore)
    assert 2 * np.linalg.norm(ball, axis=1).max() == pytest.approx(ball_diameter, abs=5e-4)
    assert shank[:, 2].max() == pytest.approx(length)
    assert np.ptp(shank[:, 0]) == pytest.approx(int(size[1:]))  # an M8 thread is 8 mm wide, ISO 261


def test_the_table_names_its_source():
    assert ROD_END_SOURCE == "ISO 12240-4 / DIN 648 series K as printed in an open table of standard parts"
    assert list(ROD_END_SIZES) == list(TABLE)


def test_ball_leaves_the_eye_where_its_sphere_passes_through_the_faces():
    eye, _, _ = upright("M8")
    edge = radii(eye).min()
    assert np.hypot(edge, 9 / 2) == pytest.approx(15.880 / 2, abs=5e-4)


def test_shank_starts_within_the_eye_and_outside_of_its_opening():
    for size in TABLE:
        eye, _, shank = upright(size)
        assert radii(eye).min() < shank[:, 2].min() < radii(eye).max()
        assert np.hypot(shank[:, 1], shank[:, 2]).min() > radii(eye).min()


@pytest.mark.parametrize(
    ("name", "value", "solid", "measure"),
    [
        ("bore", 6, "ball", lambda ball: 2 * radii(ball).min()),
        ("ball_width", 14, "ball", lambda ball: np.ptp(ball[:, 0])),
        ("ball_face", 11, "ball", lambda ball: 2 * radii(ball[np.isclose(ball[:, 0], 6)]).max()),
        ("housing_width", 10, "eye", lambda eye: np.ptp(eye[:, 0])),
        ("eye_diameter", 26, "eye", lambda eye: np.ptp(eye[:, 1])),
        ("length", 55, "shank", lambda shank: shank[:, 2].max()),
        ("shank_diameter", 10, "shank", lambda shank: np.ptp(shank[:, 1])),
    ],
)
def test_every_dimension_can_be_replaced(name, value, solid, measure):
    order = ("eye", "ball", "shank")
    assert measure(upright("M8", **{name: value})[order.index(solid)]) == pytest.approx(value)
    assert measure(upright("M8")[order.index(solid)]) != pytest.approx(value)


def test_a_rod_end_of_ones_own_needs_no_size():
    own = dict(
        zip(("bore", "ball_width", "housing_width", "ball_face", "eye_diameter", "length"), TABLE["M8"], strict=False)
    )
    assert rod_end_size(**own, shank_diameter=8) == rod_end_size("M8")
    assert rod_end_size("M8", bore=None) == rod_end_size("M8")


def test_ball_follows_the_bolt_and_the_eye_stays_square_to_the_shank():
    lean = np.radians(10)
    bolt = np.array([np.cos(lean), 0, np.sin(lean)])
    made = rod_end(CENTRE, (0, 0, 1), bolt, "M8")
    eye, ball = made.eye.vertices - CENTRE, made.ball.vertices - CENTRE
    assert np.ptp(eye[:, 0]) == pytest.approx(9)
    assert np.ptp(eye[:, 2]) == pytest.approx(24)
    assert np.ptp(ball @ bolt) == pytest.approx(12)


def test_solids_are_named():
    made = rod_end(CENTRE, (0, 0, 1), (1, 0, 0), "M8")
    assert dict(made.solids) == {"eye": made.eye, "ball": made.ball, "shank": made.shank}


@pytest.mark.parametrize(
    ("neighbour", "tilt"), first([(10.4, 14.561), (36, 7.359), (12, 12.972), (16, 10.126), (20, 8.266)], 2)
)
def test_a_disc_on_the_ball_meets_the_eye_at_the_published_tilt(neighbour, tilt):
    # REFERENCE_VALUES 3.1 (M8): disc of a given diameter against the ball's face, matched there by brute force.
    def gap(degrees):
        angle = np.radians(degrees)
        axis = np.array([np.cos(angle), 0, np.sin(angle)])
        eye = rod_end((0, 0, 0), (0, 0, 1), (1, 0, 0), "M8", facet_error=0.03).eye
        corners = [(6, 4), (6, neighbour / 2), (8, neighbour / 2), (8, 4)]
        disc = turned(corners, (0, 0, 0), axis, facet_error=0.03)
        return mesh_distance(eye.vertices, eye.faces, disc.vertices, disc.faces)

    assert gap(tilt + 0.4) < 1e-6
    assert 0.005 < gap(tilt - 0.4) < 0.2
