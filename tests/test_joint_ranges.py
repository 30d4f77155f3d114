"""Ranges of joints against closed forms."""

from math import asin, atan, cos, degrees, radians, sin, tan

import pytest
from small_machines import SPINDLE, read, slider, trammel

from assembly.motion.assembling import assemble
from assembly.studies.joint_ranges import joint_ranges

HOOKE = """
format = 1
facet_error = 0.5

[parts.frame]
fixed = true
shapes = [{ box = [-60, 0, 0], size = [10, 10, 10] }]

[parts.input]
shapes = [{ box = [-30, 0, 0], size = [10, 10, 10] }]

[parts.output]
shapes = [{ box = [30, "30 * tan(30)", 0], size = [10, 10, 10] }]

[joints.front]
pin = ["frame", "input"]
at = [-50, 0, 0]
along = [1, 0, 0]

[joints.cross]
universal = ["input", "output"]
at = [0, 0, 0]
axes = [[0, 0, 1], ["-sin(30)", "cos(30)", 0]]

[joints.rear]
pin = ["frame", "output"]
at = [50, "50 * tan(30)", 0]
along = ["cos(30)", "sin(30)", 0]

[drives.turn]
turns = { front = 1 }
range = [-80, 80]
"""


def ranges_of(text):
    found = joint_ranges(assemble(read(text)))
    return {(moved.joint.name, moved.motion): moved for moved in found.ranges}, found


def test_slide_travels_as_far_as_its_drive():
    ranges, found = ranges_of(slider(low=-5.0, high=8.0))
    travel = ranges["guide", "travel"]
    assert (travel.least, travel.most, travel.unit) == (pytest.approx(-5), pytest.approx(8), "mm")
    assert (travel.at_least, travel.at_most) == ((-5.0,), (8.0,))
    assert found.reached == found.settings


def test_pin_is_followed_past_half_a_turn():
    ranges, _ = ranges_of(SPINDLE)
    turn = ranges["axle", "turn"]
    assert (turn.least, turn.most) == (pytest.approx(-250), pytest.approx(250))  # closed form: 2.5 × 100
    assert ranges["axle", "travel"].most == pytest.approx(12)


def test_rod_end_leans_by_the_closed_form_and_keeps_the_rest_in_reserve():
    lean = ranges_of(trammel(low=-30.0, high=20.0, misalignment=22.0))[0]["low_ball", "misalignment"]
    assert lean.least == pytest.approx(0, abs=1e-6)
    assert lean.most == pytest.approx(degrees(asin(30 / 100)))  # closed form
    assert lean.at_most == (-30.0,)
    assert lean.reserve == pytest.approx(22 - degrees(asin(0.3)))


def test_rod_end_past_its_rating_has_a_reserve_below_zero():
    lean = ranges_of(trammel(misalignment=15.0))[0]["low_ball", "misalignment"]
    assert lean.reserve == pytest.approx(15 - degrees(asin(0.3)))
    assert lean.reserve < 0


def test_ball_without_a_bolt_is_named_as_not_measured():
    ranges, found = ranges_of(trammel())
    assert [name for name, _ in found.not_measured] == ["high_ball"]
    assert not any(joint == "high_ball" for joint, _ in ranges)


def test_cross_of_a_universal_joint_turns_by_the_closed_form():
    ranges, _ = ranges_of(HOOKE)
    bend, turn = radians(30), radians(80)
    # closed forms of Hooke's joint; the second yoke's line starts square to the plane of the shafts' bend
    assert ranges["rear", "turn"].most == pytest.approx(degrees(atan(tan(turn) * cos(bend))))
    in_output = ranges["cross", "turn of the cross in output"]
    assert (in_output.least, in_output.most) == pytest.approx((-degrees(asin(sin(bend) * sin(turn))), -in_output.least))
    in_input = ranges["cross", "turn of the cross in input"]
    assert in_input.most == pytest.approx(0, abs=1e-9)
    assert in_input.least == pytest.approx(degrees(atan(tan(bend) * cos(turn))) - 30)


def test_setting_at_rest_is_among_those_looked_at():
    lean = ranges_of(trammel(low=-30.0, high=7.77))[0]["low_ball", "misalignment"]
    assert lean.at_least == (0.0,)
