"""Misalignment of a rod end from how it is mounted, against published figures and against contact found by trying."""

from math import acos, asin, atan, degrees, hypot, inf, sqrt

import numpy as np
import pytest
from mechanism_files import TRIKE, folder_with_meshes
from small_machines import read, trammel

from assembly.geometry.shapes import ROD_END_SIZES
from assembly.model.mounting import CHEEK, HEAD, OWN, SHANK, SPACER, Mounting
from assembly.model.reader import machine_from_text

M8 = {"ball_width": 12.0, "housing_width": 9.0, "eye_diameter": 24.0, "shoulder": 10.4}
TC_02 = {"ball_width": 12.0, "housing_width": 9.0, "eye_diameter": 24.0, "shoulder": 2 * sqrt(8**2 - 6**2)}


def mounted(dimensions=M8, **beside):
    return Mounting(**{"beside": dimensions["shoulder"], **dimensions, **beside}).limit()


def of_size(name, **beside):
    size = ROD_END_SIZES[name]
    own = size.ball_width, size.housing_width, size.eye_diameter, size.ball_face
    return Mounting(*own, **{"beside": size.ball_face, **beside}).limit()


@pytest.mark.parametrize(
    ("beside", "limit"),
    [(10.4, 14.561), (12, 12.972), (13, 12.131), (14, 11.386), (16, 10.126), (18, 9.106), (20, 8.266), (22, 7.563)]
    + [(30, 7.359), (45, 7.359)],
)
def test_m8_against_what_touches_its_ball(beside, limit):
    """REFERENCE_VALUES 3.1: derived, matched there by contact in three dimensions to .001 degrees."""
    assert mounted(beside=beside, fork=False)[0] == pytest.approx(limit, abs=6e-4)


@pytest.mark.parametrize(
    ("size", "own", "fork"),
    [
        ("M5", 13.39, 6.50),
        ("M6", 12.82, 6.44),
        ("M8", 14.56, 7.36),
        ("M10", 13.87, 7.36),
        ("M12", 13.39, 7.36),
        ("M14", 16.36, 9.06),
        ("M16", 15.69, 8.44),
    ],
)
def test_own_limit_and_fork_of_every_size(size, own, fork):
    """REFERENCE_VALUES 3, last columns (DIN 648 series K; limits derived there)."""
    assert of_size(size, fork=False) == (pytest.approx(own, abs=6e-3), OWN)
    assert of_size(size) == (pytest.approx(fork, abs=6e-3), CHEEK)


@pytest.mark.parametrize("size", ROD_END_SIZES)
def test_published_fork_formula_is_optimistic_for_a_square_edged_eye(size):
    """REFERENCE_VALUES 3.2: asin(W / D) - asin(H / D) of a bearing catalogue is .4 to .8 degrees too much."""
    own = ROD_END_SIZES[size]
    published = degrees(asin(own.ball_width / own.eye_diameter) - asin(own.housing_width / own.eye_diameter))
    assert 0.4 < published - of_size(size)[0] < 0.8


def test_angle_of_the_table_is_not_the_limit_with_a_plain_washer_or_a_fork():
    """REFERENCE_VALUES 3.3: a plain M8 washer is 16 mm across; the table says 14 degrees."""
    assert mounted(beside=16, fork=False) == (pytest.approx(10.13, abs=6e-3), SPACER)
    assert mounted() == (pytest.approx(7.36, abs=6e-3), CHEEK)


def test_spacers_of_the_balls_own_diameter_make_its_shoulder_the_limit():
    """REFERENCE_VALUES 3.4"""
    at_2 = Mounting(**M8, beside=10.4, spacer=2)
    assert at_2.lean_to(12 + 2 * 2, inf) == pytest.approx(18.07, abs=6e-3)
    assert at_2.limit() == (pytest.approx(14.56, abs=6e-3), OWN)
    for spacer in (2, 3, 8):
        assert mounted(beside=12, spacer=spacer) == (pytest.approx(12.97, abs=6e-3), SPACER)


def test_three_mountings_rank_as_published_and_a_bare_shank_reaches_farthest():
    """REFERENCE_VALUES 3.5: close fork < washer of ball-face diameter < stud of bore diameter (engineering data)."""
    fork, washer, stud = (mounted(), mounted(fork=False), mounted(beside=8, fork=False))
    assert fork[0] < washer[0] < stud[0]
    ball = hypot(12, 10.4)
    assert stud == (pytest.approx(degrees(acos(9 / ball) - asin(8 / ball))), SHANK)
    assert stud[0] == pytest.approx(25.22, abs=6e-3)
    assert of_size("M10", beside=10, fork=False)[0] == pytest.approx(24.84, abs=6e-3)


def test_head_larger_than_the_shoulder_is_the_limit_until_spacers_lift_it():
    assert mounted(bolt_head=13, fork=False) == (pytest.approx(12.131, abs=6e-4), HEAD)  # as a washer, 3.1
    assert mounted(bolt_head=13, fork=False, spacer=3) == (pytest.approx(14.561, abs=6e-4), OWN)


@pytest.mark.parametrize(
    ("spacer", "limit", "limiter"),
    [(0, 7.36, CHEEK), (1, 12.55, CHEEK), (2, 14.36, OWN), (3, 14.36, OWN)],
)
def test_rod_end_in_its_bracket(spacer, limit, limiter):
    """BUILDERS_CASES TC-02, from a builder's measurements and derived there; not 24.05, nor 14.36 without spacers."""
    assert mounted(TC_02, spacer=spacer) == (pytest.approx(limit, abs=6e-3), limiter)
    bracket = degrees(asin((6 + spacer) / hypot(12, 4.5)) - atan(4.5 / 12)) if spacer < 3 else 24.05
    assert mounted(TC_02, spacer=spacer)[0] == pytest.approx(min(bracket, degrees(asin(6 / 8) - asin(4.5 / 8))))


def test_bracket_and_ball_are_equal_at_the_published_spacer():
    """BUILDERS_CASES TC-02"""
    assert mounted(TC_02, spacer=1.335)[1] == CHEEK
    assert mounted(TC_02, spacer=1.337)[1] == OWN


def eye_meets(lean, mounting):
    """Whether the eye's section, turned by ``lean`` degrees, runs into any of what stands beside the ball.

    By points along the eye's faces and edges; each thing is a box in the section. No formula of the package's.
    """
    hole = sqrt(mounting.ball_width**2 + mounting.shoulder**2 - mounting.housing_width**2)
    out = np.linspace(hole / 2, mounting.eye_diameter / 2, 4001)
    along = np.linspace(-mounting.housing_width / 2, mounting.housing_width / 2, 801)
    edge = np.full_like(along, mounting.eye_diameter / 2), np.full_like(along, hole / 2)
    across = np.concatenate([out, edge[0], edge[1]])
    up = np.concatenate([np.full_like(out, mounting.housing_width / 2), along, along])
    turn = np.radians(lean)
    x, y = across * np.cos(turn) - up * np.sin(turn), across * np.sin(turn) + up * np.cos(turn)
    face, beyond = mounting.ball_width / 2, mounting.ball_width / 2 + mounting.spacer
    met = (np.abs(x) < mounting.beside / 2) & (y > face)
    if mounting.fork:
        met |= y > beyond
    if mounting.bolt_head is not None:
        met |= (np.abs(x) < mounting.bolt_head / 2) & (y > beyond)
    return met.any()


@pytest.mark.parametrize("seed", range(40))
def test_limit_is_where_the_section_of_the_eye_first_meets_something(seed):
    """Oracle: the eye's outline turned in small steps. In section, where contact comes first in space as well (3.1)."""
    random = np.random.default_rng(seed)
    ball_width, shoulder = random.uniform(8, 20), random.uniform(7, 18)
    housing = random.uniform(0.6, 0.9) * ball_width
    hole = sqrt(ball_width**2 + shoulder**2 - housing**2)
    mounting = Mounting(
        ball_width,
        housing,
        random.uniform(1.1, 1.8) * hole,
        shoulder,
        beside=shoulder * random.choice([0.8, 1.0, random.uniform(1, 2)]),
        spacer=random.choice([0.0, random.uniform(0, 6)]),
        fork=bool(random.random() < 0.5),
        bolt_head=random.choice([None, shoulder * random.uniform(1, 2.5)]),
    )
    limit, _ = mounting.limit()
    assert not eye_meets(limit - 0.02, mounting)
    assert limit == 90.0 or eye_meets(limit + 0.02, mounting)


def lower_ball(lines, **changes):
    text = trammel().replace("misalignment = 22.0", lines)
    for old, new in changes.items():
        text = text.replace(old, new)
    machine = read(text)
    return machine.joints["low_ball"], machine.findings


def test_size_in_the_file_is_the_fork_unless_something_else_is_said():
    joint, _ = lower_ball('mounting = { size = "M8" }')
    assert (joint.misalignment, joint.limiter) == (pytest.approx(7.359, abs=6e-4), CHEEK)
    joint, _ = lower_ball('mounting = { size = "M8", fork = false, beside = 16 }')
    assert (joint.misalignment, joint.limiter) == (pytest.approx(10.126, abs=6e-4), SPACER)


def test_every_dimension_of_the_table_can_be_written_over_or_stand_alone():
    joint, _ = lower_ball(
        'mounting = { size = "M10", ball_width = 12, housing_width = 9, eye_diameter = 24, '
        'shoulder = "2 * sqrt(8**2 - 6**2)", bore = 8, spacer = 1 }'
    )
    assert joint.misalignment == pytest.approx(12.55, abs=6e-3)
    joint, _ = lower_ball(
        "mounting = { ball_width = 12, housing_width = 9, eye_diameter = 24, shoulder = 10.4, fork = false }"
    )
    assert (joint.misalignment, joint.limiter) == (pytest.approx(14.561, abs=6e-4), OWN)


def test_stated_rating_that_the_mounting_does_not_reach_is_a_finding_and_not_the_limit():
    joint, findings = lower_ball('misalignment = 13\nmounting = { size = "M8" }')
    assert (joint.misalignment, joint.limiter) == (pytest.approx(7.359, abs=6e-4), CHEEK)
    told = [finding.message for finding in findings if finding.about == "joints.low_ball"]
    assert told == ["13° in the file, 7.4° as mounted: the fork's cheek is the limit"]


def test_stated_rating_below_what_the_mounting_reaches_is_the_limit():
    joint, findings = lower_ball('misalignment = 5\nmounting = { size = "M8" }')
    assert (joint.misalignment, joint.limiter) == (5, "")
    assert not [finding for finding in findings if finding.about == "joints.low_ball"]


def test_mounting_without_a_bolt_is_noted():
    _, findings = lower_ball('mounting = { size = "M8" }', **{"bolt = [0, 1, 0]": ""})
    told = [finding.message for finding in findings if finding.about == "joints.low_ball"]
    assert told == ["its mounting is described but no bolt is given, so it cannot be checked"]


def test_eye_of_the_twin_is_mirrored(tmp_path):
    text = TRIKE.replace("misalignment = 22", "eye = [0, 3, 4]\nmisalignment = 22")
    joints = machine_from_text(text, folder_with_meshes(tmp_path)).joints
    assert joints["lower_ball_left"].eye == pytest.approx((0, 0.6, 0.8))
    assert joints["lower_ball_right"].eye == pytest.approx((0, -0.6, 0.8))
