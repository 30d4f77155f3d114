"""Ranges of joints against closed forms."""

from math import asin, atan, cos, degrees, radians, sin, tan

import pytest
from rod_machines import twisted_rod
from small_machines import HERE, SPINDLE, read, slider, trammel

from assembly.kinematics.assembling import assemble
from assembly.studies.sweep.joint_ranges import joints_of
from assembly.studies.sweep.verdict import joint_verdict

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
    found = joints_of(assemble(read(text)))
    return {(moved.name, moved.motion): moved for moved in found.joints}, found


def test_slide_travels_as_far_as_its_drive():
    ranges, _ = ranges_of(slider(low=-5.0, high=8.0))
    travel = ranges["guide", "travel"]
    assert (travel.least, travel.most, travel.unit) == (pytest.approx(-5), pytest.approx(8), "mm")
    assert (travel.at_least, travel.at_most) == ({"push": -5.0}, {"push": 8.0})


def test_pin_is_followed_past_half_a_turn():
    ranges, _ = ranges_of(SPINDLE)
    turn = ranges["axle", "turn"]
    assert (turn.least, turn.most) == (pytest.approx(-250), pytest.approx(250))  # closed form: 2.5 × 100
    assert ranges["axle", "travel"].most == pytest.approx(12)


def test_rod_end_leans_by_the_closed_form_and_keeps_the_rest_in_reserve():
    lean = ranges_of(trammel(low=-30.0, high=20.0, misalignment=22.0))[0]["low_ball", "misalignment"]
    assert lean.least == pytest.approx(0, abs=1e-6)
    assert lean.most == pytest.approx(degrees(asin(30 / 100)))  # closed form
    assert lean.at_most == {"push": -30.0}
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
    assert lean.at_least == {"push": 0.0}


OWN = degrees(asin(6 / 8) - asin(4.5 / 8))
"""BUILDERS_CASES TC-02: the rod end's own limit, 14.362."""


def bracket(low, high, *, rest=5.0, along="[1, 0, 0]", extra=""):
    """A rod that swings on a pin at its ball, in a bracket welded off its rest line by ``rest`` degrees (C12)."""
    return f"""
format = 1
facet_error = 0.5

[parts.frame]
fixed = true
shapes = [{{ box = [200, 0, 0], size = [10, 10, 10] }}]

[parts.rod]
shapes = [{{ rod = [[0, 20, 0], [0, 90, 0]], square = 6 }}]

[joints.swing]
pin = ["frame", "rod"]
at = [0, 0, 0]
along = {along}
{extra}

[joints.end]
ball = ["rod", "frame"]
at = [0, 0, 0]
bolt = [0, "-sin({rest})", "cos({rest})"]
eye = [0, 0, 1]
mounting = {{ ball_width = 12, housing_width = 9, eye_diameter = 24, shoulder = "2 * sqrt(8**2 - 6**2)", spacer = 2 }}

[drives.lean]
turns = {{ swing = 1 }}
range = [{low}, {high}]
"""


def test_angle_used_at_rest_is_lost_one_way_and_gained_the_other():
    """BUILDERS_CASES C12: own limit 14.36, bracket welded 5.0 off: 9.36 of free travel one way, 19.36 the other."""
    ranges, found = ranges_of(bracket(-9.3, 19.3))
    end = ranges["end", "misalignment"]
    assert (end.limit_low, end.limit_high) == (None, pytest.approx(OWN))
    assert end.limiter == "the ball's own shoulder"
    assert end.spent == pytest.approx(5.0)
    assert end.verdict == "clear"
    up, down = found.first_out
    assert (up.direction, up.reserve, up.at) == (1, pytest.approx(OWN - 14.3), {"lean": 19.3})
    assert (down.direction, down.reserve, down.at) == (-1, pytest.approx(OWN - 14.3), {"lean": -9.3})


@pytest.mark.parametrize(("low", "high", "at"), [(-9.4, 0, -9.4), (0, 19.4, 19.4)])
def test_a_tenth_of_a_degree_beyond_the_free_travel_fails(low, high, at):
    end = ranges_of(bracket(low, high))[0]["end", "misalignment"]
    assert end.verdict == "fails"
    assert end.at_most == {"lean": at}
    assert end.reserve == pytest.approx(OWN - 14.4)


def test_turning_about_the_bolt_uses_no_angle():
    """BUILDERS_CASES TC-02, the trap."""
    end = ranges_of(bracket(-60, 60, rest=0, along="[0, 0, 1]"))[0]["end", "misalignment"]
    assert end.most == pytest.approx(0, abs=1e-6)
    assert end.proven_most < 0.1
    assert end.verdict == "clear"


def test_bolt_off_its_pin_stays_off_by_what_is_spent_at_rest():
    end = ranges_of(bracket(-60, 60, rest=7.5, along="[0, '-sin(7.5)', 'cos(7.5)']"))[0]["end", "misalignment"]
    assert (end.spent, end.least, end.most) == pytest.approx((7.5, 7.5, 7.5))


def test_bounds_hold_everywhere_and_close_in_to_the_bracket():
    ranges, _ = ranges_of(trammel(low=-30.0, high=20.0))
    lean = ranges["low_ball", "misalignment"]
    assert degrees(asin(0.3)) <= lean.proven_most <= degrees(asin(0.3)) + 0.1  # closed form
    travel = ranges["high_guide", "travel"]
    drop = 100 * (1 - cos(asin(0.3)))
    assert -drop - 0.1 <= travel.proven_least <= -drop + 1e-6
    assert 0 <= travel.proven_most <= 0.1
    turn = ranges_of(SPINDLE)[0]["axle", "turn"]
    assert (turn.proven_least, turn.proven_most) == pytest.approx((-250, 250), abs=0.1)


@pytest.mark.parametrize(("limit", "verdict"), [(4.605, "fails"), (4.607, "clear"), (4.7, "clear"), (40, "clear")])
def test_limit_close_to_what_is_reached_is_decided(limit, verdict):
    """The upper carriage drops by 100 (1 - cos asin .3) = 4.606 mm (closed form)."""
    text = trammel().replace("along = [0, 0, 1]", f"along = [0, 0, 1]\nlimit = [-{limit}, 1]")
    assert ranges_of(text)[0]["high_guide", "travel"].verdict == verdict


def test_limit_that_a_drive_just_reaches_is_kept():
    text = slider(low=-5.0, high=8.0).replace("along = [0, -1, 0]", "along = [0, -1, 0]\nlimit = [-5, 8]")
    travel = ranges_of(text)[0]["guide", "travel"]
    assert travel.verdict == "clear"
    assert (travel.reserve_low, travel.reserve_high) == pytest.approx((0, 0), abs=1e-6)


def test_two_sides_of_a_limit_are_told_apart():
    text = slider(low=-5.0, high=8.0).replace("along = [0, -1, 0]", "along = [0, -1, 0]\nlimit = [-4, 20]")
    ranges, found = ranges_of(text)
    travel = ranges["guide", "travel"]
    assert (travel.reserve_low, travel.reserve_high) == pytest.approx((-1, 12))
    assert travel.verdict == "fails"
    up, down = found.first_out
    assert (up.limit, up.reserve, up.at) == (20.0, pytest.approx(12), {"push": 8.0})  # 12 of 20, at rest all of both
    assert (down.limit, down.reserve, down.at) == (-4.0, pytest.approx(-1), {"push": -5.0})


def test_first_out_is_the_joint_with_the_least_share_of_its_limit():
    """The low guide may travel 40 and goes 30; the rod end may lean 20 and goes 17.46: it keeps the smaller share."""
    text = trammel(low=-30.0, high=10.0, misalignment=20).replace(
        "along = [0, 1, 0]", "along = [0, 1, 0]\nlimit = [-40, 11]"
    )
    found = ranges_of(text)[1]
    up, down = found.first_out
    assert (up.joint, up.at, up.reserve) == ("low_guide", {"push": 10.0}, pytest.approx(1))
    assert (down.joint, down.at, down.reserve) == ("low_ball", {"push": -30.0}, pytest.approx(20 - degrees(asin(0.3))))


def test_end_of_a_rod_that_binds_as_drawn_is_measured_where_the_rod_rolls_to():
    """Bolts twisted by 0 to 20 with ±14: as drawn the far end leans 20; rolled by 10 both lean 10 at the most."""
    ranges, _ = ranges_of(twisted_rod(0, 20))
    for name in ("near", "far"):
        moved = ranges[name, "misalignment"]
        assert moved.most == pytest.approx(10, abs=0.01)
        assert abs(moved.roll) == pytest.approx(10, abs=0.01)
        assert moved.verdict == "clear"


def test_rod_that_serves_as_drawn_is_not_rolled():
    far = ranges_of(twisted_rod(0, 12))[0]["far", "misalignment"]
    assert (far.roll, far.most, far.rolls) == (0.0, pytest.approx(12), True)


def test_ends_that_no_one_roll_serves_are_measured_where_the_rod_rolls_to_at_each_setting():
    """Closed form: both bolts turn by up to 30 about the rod's line, ±14: rolled with them, neither end leans."""
    ranges, _ = ranges_of(twisted_rod(-30, 30, near="carrier"))
    for name in ("near", "far"):
        moved = ranges[name, "misalignment"]
        assert (moved.best_roll, moved.verdict) == (True, "clear")
        assert moved.most == pytest.approx(0, abs=1e-4)
        assert moved.reserve == pytest.approx(14, abs=1e-4)
        assert moved.proven_most == 14


def test_end_of_a_rod_that_binds_is_as_far_past_its_limit_as_its_best_roll_leaves_it():
    """Closed form: bolts twisted by up to 40 with ±14: the best roll leans both ends by 20, 6 past their limit."""
    ranges, _ = ranges_of(twisted_rod(-40, 40))
    for name in ("near", "far"):
        moved = ranges[name, "misalignment"]
        assert moved.best_roll
        assert moved.reserve == pytest.approx(-6, abs=1e-3)
        assert moved.proven_most is None


def test_an_end_of_a_rod_that_rolls_fails_only_with_its_rod():
    """An end 6 past its limit of 14 at one roll is undecided by itself; of a rod that cannot roll it fails."""
    limits, proven = (None, 14.0), (0.0, None)
    assert joint_verdict(limits, proven, -6.0, rolls=True) == "undecided"
    assert joint_verdict(limits, proven, -6.0, rolls=False) == "fails"
    ranges, found = ranges_of(twisted_rod(-40, 40))
    assert {ranges[name, "misalignment"].verdict for name in ("near", "far")} == {found.rods[0].verdict} == {"fails"}


PARALLELOGRAM = """
format = 1

[parts.frame]
fixed = true
shapes = [{ box = [60, -40, 0], size = [10, 10, 10] }]

[parts.crank]
shapes = [{ box = [0, 25, 20], size = [5, 30, 5] }]

[parts.bar]
shapes = [{ box = [60, 50, 40], size = [60, 5, 5] }]

[parts.rocker]
shapes = [{ box = [120, 25, 20], size = [5, 30, 5] }]

[joints.crank_pin]
pin = ["frame", "crank"]
at = [0, 0, 0]
along = [0, 0, 1]

[joints.knee]
pin = ["crank", "bar"]
at = [0, 50, 0]
along = [0, 0, 1]

[joints.wrist]
pin = ["bar", "rocker"]
at = [120, 50, 0]
along = [0, 0, 1]

[joints.rocker_pin]
pin = ["frame", "rocker"]
at = [120, 0, 0]
along = [0, 0, 1]
limit = [-35.7, LIMIT]

[drives.turn]
turns = { crank_pin = 1 }
range = [-35.7, 41.3]
"""


def pin_and_drive(limit, low=-30.0, high=18.24):
    text = (HERE / "cases" / "limit_undecided.toml").read_text()
    text = text.replace("limit = [-30, 30]", f"limit = [-30, {limit}]")
    return text.replace("range = [-30, 18.24]", f"range = [{low}, {high}]")


# closed form: the pin turns as its drive does, and the rocker of a parallelogram as its crank does
@pytest.mark.parametrize(
    ("text", "name", "verdict"),
    [
        (pin_and_drive(30), "j", "clear"),
        (pin_and_drive(18.24), "j", "clear"),
        (pin_and_drive(18.23), "j", "fails"),
        (pin_and_drive(30, low=-30.01), "j", "fails"),
        (PARALLELOGRAM.replace("LIMIT", "41.3"), "rocker_pin", "clear"),
        (PARALLELOGRAM.replace("LIMIT", "41.29"), "rocker_pin", "fails"),
    ],
)
def test_a_limit_that_is_reached_to_the_last_bit_is_kept_and_one_that_is_passed_is_not(text, name, verdict):
    turn = ranges_of(text)[0][name, "turn"]
    assert turn.verdict == verdict
    if verdict == "clear":
        assert (turn.proven_least, turn.least) == (pytest.approx(turn.limit_low, abs=1e-6),) * 2


# closed form: the sledge travels as its drive asks
def test_a_slide_that_is_driven_to_its_limit_keeps_it():
    text = slider(low=-5.3, high=8.7).replace("at = [0, 30, 0]\n", "at = [0, 30, 0]\nlimit = [-5.3, 8.7]\n")
    assert ranges_of(text)[0]["guide", "travel"].verdict == "clear"
