"""Wheels against reference values and builders' cases that no other test has: linkages, travel, both wheels, lean."""

from math import acos, asin, atan, atan2, cos, degrees, hypot, radians, sin, tan

import numpy as np
import pytest
from wheel_machines import FLOOR, TYRE, at, corner, parallelogram_text, parts, read, trapezoid

import assembly

RIM = 406.0


def pivots(width, base):
    """Two uprights on upright kingpins, ``width`` apart and ``base`` ahead of a third contact."""
    half = width / 2
    return f"""
[points]
king_left = [0, {half}, 0]
[mirror]
left = "right"
[wheels.wheel_left]
part = "upright_left"
centre = [0, {half}, 200]
kingpin = [[0, {half}, 100], [0, {half}, 300]]
{TYRE}
[road]
contact = {{ on = "frame", at = [{-base}, 0, 0] }}
"""


def davis(width, base, reach=40.0):
    """REFERENCE_VALUES 2.5: a bar that slides across in front; its ends slide in arms at atan(width / 2 base)."""
    slope, ahead = width / 2 / base, 100.0
    at_end = f"at = [{ahead}, {width / 2 - ahead * slope}, 300]"
    return read(
        f"""{pivots(width, base)}
[joints]
king_left = {{ pin = ["frame", "upright_left"], at = [0, {width / 2}, 300], along = [0, 0, 1] }}
guide = {{ slide = ["frame", "bar"], at = [{ahead}, 0, 300], along = [0, 1, 0] }}
end_left = {{ pin = ["bar", "block_left"], {at_end}, along = [0, 0, 1] }}
slot_left = {{ slide = ["upright_left", "block_left"], {at_end}, along = [1, {-slope}, 0] }}
{parts("frame", "upright_left", "bar", "block_left")}
[drives.steer]
slides = {{ guide = 1 }}
range = [{-reach}, {reach}]
"""
    )


def inner_turn(slid, slope):
    """Closed form: the inner arm of the gear turns from atan(slope) to atan(slope - slid / 100)."""
    return degrees(atan(slope) - atan(slope - slid / 100))


@pytest.mark.parametrize(("base", "angle"), [(2000.0, 11.30993), (1600.0, 14.03624)])
def test_a_gear_of_sliding_arms_steers_without_any_error(base, angle):
    """2.5 (published): exact for every angle where tan(angle) is w / 2 l; derived: cot(outer) - cot(inner) = 2 tan."""
    slope = 800 / 2 / base
    assert degrees(atan(slope)) == pytest.approx(angle, abs=6e-6)
    found = at(davis(800.0, base), *[[slid] for slid in (-40, -10, 5, 20, 40)])
    assert found.values["wheel_left and wheel_right outer error"] == pytest.approx(np.zeros(5), abs=1e-8)
    assert found.values["wheel_left steer"][-1] == pytest.approx(inner_turn(40, slope), abs=1e-8)


def test_the_outer_wheel_that_a_builder_wants_and_the_one_of_arms_that_point_forward():
    """C18: at 1200 and 700 an inner angle of 30 wants 23.36 outside; arms turned about open the other way (2.3)."""
    slope = 700 / 2 / 1200
    slid = 100 * (slope - tan(atan(slope) - radians(30)))
    found = at(davis(700.0, 1200.0, reach=60.0), [slid])
    assert found.values["wheel_left steer"] == pytest.approx([30.0], abs=1e-8)
    assert found.values["wheel_right steer"] == pytest.approx([23.36], abs=0.005)
    wrong = at(trapezoid(-18.434948823), [30.0])
    assert wrong.values["wheel_right steer"] == pytest.approx([trapezoid_outer(-18.434948823, 30.0)], abs=1e-8)
    assert wrong.values["wheel_right steer"][0] > 30


def trapezoid_outer(arm_angle, inner):
    """2.3, closed form: k² + p² + q² of the rod between both arms' ends, for the outer angle by bisection."""
    b, k, turned = radians(arm_angle), 100 / 800, radians(inner)
    low, high = 0.0, radians(60)

    def excess(outer):
        across = 1 - k * sin(b + turned) - k * sin(b - outer)
        return across**2 + (k * cos(b + turned) - k * cos(b - outer)) ** 2 - (1 - 2 * k * sin(b)) ** 2

    sign = excess(low)
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if excess(middle) * sign > 0 else (low, middle)
    return degrees(low)


DRAG = (300.0, 60.0, 80.0)
"""mm: how far the drop arm's pivot lies behind the kingpin, the drop arm, and the steering arm; both arms along y."""


def drag_link():
    """A drop arm behind the left wheel, and a link to an arm on its upright."""
    back, drop, arm = DRAG
    return read(
        f"""{FLOOR}
[joints]
pitman = {{ pin = ["frame", "drop_arm"], at = [{-back}, 300, 300], along = [0, 0, 1] }}
king = {{ pin = ["frame", "upright"], at = [0, 300, 300], along = [0, 0, 1] }}
near = {{ ball = ["drop_arm", "link"], at = [{-back}, {300 - drop}, 300] }}
far = {{ ball = ["link", "upright"], at = [0, {300 - arm}, 300] }}
{parts("frame", "drop_arm", "upright", "link")}
[wheels.wheel]
part = "upright"
centre = [0, 300, 200]
{TYRE}
[drives.pitman]
turns = {{ pitman = 1 }}
range = [-25, 25]
"""
    )


def test_a_drag_link_steers_as_a_four_bar_does():
    """Closed form: the arm's end lies on two circles, about the kingpin and about the drop arm's end."""
    back, drop, arm = DRAG
    link = hypot(back, arm - drop)
    turned = [-25.0, -10.0, 0.0, 15.0, 25.0]
    expected = []
    for each in map(radians, turned):
        x, y = -back + drop * sin(each), -drop * cos(each)
        away = hypot(x, y)
        expected.append(90 + degrees(atan2(y, x) + acos((arm**2 + away**2 - link**2) / (2 * arm * away))) - 360)
    expected = [(one + 180) % 360 - 180 for one in expected]
    assert expected[2] == pytest.approx(0, abs=1e-9)
    assert at(drag_link(), *[[one] for one in turned]).values["wheel steer"] == pytest.approx(expected, abs=1e-8)


def arms(rod):
    """2.12: equal parallel arms of 300 and a tie rod of ``rod``, 100 behind, from the upright to the frame."""
    return read(
        f"""{FLOOR}
[joints]
low_in = {{ pin = ["frame", "low_arm"], at = [0, 0, 250], along = [1, 0, 0] }}
up_in = {{ pin = ["frame", "up_arm"], at = [0, 0, 400], along = [1, 0, 0] }}
low = {{ ball = ["low_arm", "upright"], at = [0, 300, 250] }}
up = {{ ball = ["up_arm", "upright"], at = [0, 300, 400] }}
tie_in = {{ ball = ["frame", "tie"], at = [-100, {300 - rod}, 250] }}
tie = {{ ball = ["tie", "upright"], at = [-100, 300, 250] }}
{parts("frame", "low_arm", "up_arm", "upright", "tie")}
[wheels.wheel]
part = "upright"
centre = [0, 300, 325]
{TYRE}
[drives.lift]
turns = {{ low_in = 1 }}
range = [-12, 12]
"""
    )


@pytest.mark.parametrize(
    ("rod", "at_25", "at_50"), [(300, 0.0, 0.0), (250, -0.120126, -0.489893), (350, 0.085647, 0.347313)]
)
def test_toe_of_a_wheel_over_travel_with_a_rod_of_another_length(rod, at_25, at_50):
    """2.12 (closed form): toe-out with a rod that is shorter than the arms, both ways alike."""
    lifts = [[degrees(asin(travel / 300))] for travel in (-50, -25, 25, 50)]
    found = at(arms(rod), *lifts)
    assert found.values["wheel toe"] == pytest.approx([at_50, at_25, at_25, at_50], abs=1e-5)


def test_camber_of_a_swing_arm():
    """2.14 (closed form): an arm of 250 lifted by 40 turns by 9.206896, and the wheel's top leans inward by as much."""
    machine = read(
        f"""{FLOOR}
[joints]
pivot = {{ pin = ["frame", "arm"], at = [0, 50, 200], along = [1, 0, 0] }}
{parts("frame", "arm")}
[wheels.wheel]
part = "arm"
centre = [0, 300, 200]
{TYRE}
[drives.lift]
turns = {{ pivot = 1 }}
range = [-15, 15]
"""
    )
    assert at(machine, [degrees(asin(40 / 250))]).values["wheel camber"] == pytest.approx([-9.206896], abs=1e-6)


def test_toe_over_travel_and_steer_of_a_rod_that_is_nearly_right_straight_ahead():
    """C16: little toe over travel straight ahead, more turned in; TC-01 E with a rack (own model, TC-01's formula)."""
    text = f"""{corner(1.0, (-90.0, 20.0, 250.0), 0.0)}{parts("frame", "rack")}{FLOOR}toe_set_at = {{ lift = 3 }}
[joints.slide]
slide = ["frame", "rack"]
at = [-90, 0, 250]
along = [0, 1, 0]
[drives.lift]
turns = {{ low_in_left = 1 }}
range = [-8, 10]
[drives.rack]
slides = {{ slide = 1 }}
range = [-40, 40]
"""
    text = text.replace('tie_in_left = { ball = ["frame"', 'tie_in_left = { ball = ["rack"')
    settings = [(lift, rack) for lift in (-6.0, 0.0, 9.0) for rack in (-30.0, 0.0, 30.0)]
    found = at(read(text), *settings).values["wheel_left toe"]
    assert found == pytest.approx([rack_toe(*one) for one in settings], abs=1e-7)
    over_travel = found[6:] - found[3:6]
    assert over_travel[0] > 1.05 * over_travel[1] > 0
    tables = assembly.wheels(read(text), steps=3).tables
    assert tables.toe_set_at == {"lift": 3.0, "rack": 0.0}


def rack_toe(lift, slid):
    """TC-01: (90 (1 - cos d))² + (Oy - Py + 90 sin d)² = L² - drop², with the inner joint moved across by the rack."""
    out, drop = 80 + 350 * cos(radians(lift)) - slid, 350 * sin(radians(lift))
    square, size = 430**2 - drop**2, hypot(out, 90)
    return degrees(asin((square - out**2 - 2 * 90**2) / 180 / size) + atan2(90, out))


def test_a_strut_that_is_longer_on_one_side_points_that_wheel_alone():
    """C27: TC-01 A with the right wheel 10 lower: toe +2.02 there and 0 on the left, so the pair is steered by half."""
    inner = (-90.0, 20.0, 174.0)
    machine = read(
        f"""{corner(1.0, inner, 60.0)}{parts("frame")}{FLOOR}[mirror]\nleft = "right"
[drives.left]
turns = {{ low_in_left = 1 }}
range = [-8, 8]
[drives.right]
turns = {{ low_in_right = -1 }}
range = [-8, 8]
"""
    )
    found = at(machine, [0.0, -degrees(asin(10 / 350))]).values
    assert found["wheel_left toe"] == pytest.approx([0], abs=1e-9)
    assert found["wheel_right toe"] == pytest.approx([2.02], abs=0.006)
    assert found["wheel_left and wheel_right total toe"] == pytest.approx(found["wheel_right toe"])
    assert found["wheel_left and wheel_right steered"] == pytest.approx(found["wheel_right toe"] / 2)


def test_a_leaning_parallelogram_over_the_range_with_bounds():
    """Closed form: the frame leans as far as its beams, the track stays 400, no wheel toes or steers, anywhere."""
    limits = "limits = { lean = [-25, 25], track = [399.99, 400.01], total_toe = [-0.01, 0.01] }"
    record = assembly.wheels(read(f"{parallelogram_text()}[road]\n{limits}\n"), steps=2)
    assert record.verdict == "clear"
    told = {one.name: one for one in record.measures}
    for name, low, high in (
        ("lean", -25.0, 25.0),
        ("wheel_left and wheel_right track", 400.0, 400.0),
        ("wheel_left and wheel_right total toe", 0.0, 0.0),
    ):
        one = told[name]
        assert (one.least, one.most) == pytest.approx((low, high), abs=1e-6)
        assert low - 0.011 <= one.proven_least <= low + 1e-6
        assert high - 1e-6 <= one.proven_most <= high + 0.011
