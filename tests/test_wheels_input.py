"""What is wrong with wheels as they are written: one clear line each, with what would be valid."""

import pytest
from wheel_machines import FLOOR, TYRE, corner, parts, read

from assembly.errors import InputError

FRAME = parts("frame")
WHEEL = f"part = 'frame'\ncentre = [0, 300, 200]\n{TYRE}\n"


def faults(text):
    with pytest.raises(InputError) as error:
        read(text)
    return [str(fault) for fault in error.value.faults]


def one_fault(text):
    (told,) = faults(text)
    return told


def cornered(old, new):
    return (
        corner().replace(old, new, 1) + FRAME + FLOOR + "[drives.lift]\nturns = { low_in_left = 1 }\nrange = [-8, 12]\n"
    )


def test_the_corner_itself_is_read():
    assert read(cornered("", "")).running.wheels["wheel_left"].side == "left"


def test_a_wheel_on_a_part_that_does_not_turn_with_the_upright():
    told = one_fault(cornered('part = "upright_left"', 'part = "low_arm_left"'))
    assert "wheels.wheel_left.kingpin" in told
    assert "`low_arm_left` does not turn with the upright: the upper point is the joint up_left" in told
    assert "bolted to the upright" in told


def test_a_kingpin_that_says_another_part_than_the_wheel():
    pin = 'kingpin = [{ on = "low_arm_left", at = "low_left" }, { on = "low_arm_left", at = [0, 450, 400] }]'
    told = one_fault(cornered('kingpin = ["low_left", "up_left"]', pin))
    assert "`upright_left` does not turn with `low_arm_left`, where its kingpin lies" in told


def test_kingpin_points_on_unlike_parts():
    pin = 'kingpin = [{ on = "upright_left", at = "low_left" }, { on = "up_arm_left", at = "up_left" }]'
    told = one_fault(cornered('kingpin = ["low_left", "up_left"]', pin))
    assert "its points lie on `upright_left` and `up_arm_left`, which move against each other" in told


def test_a_kingpin_upside_down():
    told = one_fault(cornered('kingpin = ["low_left", "up_left"]', 'kingpin = ["up_left", "low_left"]'))
    assert "the upper point lies at z 250 and the lower at 400" in told


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("rim_diameter = 406", "rim_diameter = 506", "a rim of 506 mm is no smaller than its tyre of 500 mm"),
        ("section = 40", "section = 300", "a tyre of 500 mm cannot have a section of 300 mm"),
        ("spin = [0, 1, 0]", "spin = [1, 0, 0]", "this axle points along [1, 0, 0], not across the machine"),
        ('part = "upright_left"\n', 'part = "uprigt_left"\n', "unknown part `uprigt_left`"),
        ("section = 40", "section = 40\nlimits = { tow = [0, 1] }", "unknown figure `tow`"),
        ("section = 40", "section = 40\nlimits = { toe = [1, 0] }", "least 1 is more than most 0"),
        (
            "section = 40",
            "section = 40\nlimits = { toe = { most = 1, at = { lift = 40 } } }",
            "drive `lift` cannot be set to 40",
        ),
    ],
)
def test_numbers_that_cannot_be(old, new, expected):
    told = one_fault(cornered(old, new))
    assert expected in told
    assert "machine.toml:" in told


def test_three_wheels_on_one_line():
    wheels = "".join(f"[wheels.w{y}]\n{WHEEL.replace('300', str(y))}" for y in (-300, 0, 300))
    assert "the contacts of `w-300`, `w0`, `w300` lie on one line" in one_fault(FRAME + wheels)


def test_two_wheels_without_a_third_contact():
    wheels = "".join(f"[wheels.w{y}]\n{WHEEL.replace('300', str(y))}" for y in (-300, 300))
    told = one_fault(FRAME + wheels)
    assert "make 2 contacts, and a road has 3" in told
    assert "state the third: `[road] contact" in told


def test_one_wheel_is_told_that_a_contact_does_not_make_a_road_of_it():
    one = f"[wheels.w]\n{WHEEL}"
    told = one_fault(FRAME + one)
    assert "`w` makes 1 contact, and a road has 3; declare its other wheels, or state the road" in told
    contact = '[road]\ncontact = { on = "frame", at = [-1000, 0, 0] }\n'
    assert "declare its other wheels, or state the road: `[road] plane" in one_fault(FRAME + one + contact)


def test_three_wheels_need_no_stated_contact():
    wheels = "".join(f"[wheels.w{k}]\n{WHEEL.replace('0, 300', f'{x}, {y}')}" for k, (x, y) in enumerate(CORNERS))
    contact = '[road]\ncontact = { on = "frame", at = [-1000, 0, 0] }\n'
    assert "leave `contact` out" in one_fault(FRAME + wheels + contact)


CORNERS = ((0, 300), (0, -300), (-900, 0))


def test_four_wheels_say_which_three_stand_on_the_road():
    wheels = "".join(
        f"[wheels.w{number}]\n{WHEEL.replace('0, 300', f'{x}, {y}')}"
        for number, (x, y) in enumerate(((0, 300), (0, -300), (-900, 300), (-900, -300)))
    )
    assert "make 4 contacts, and a road has 3" in one_fault(FRAME + wheels)
    rests = '[road]\nrests_on = ["w0", "w1", "w2"]\n'
    assert read(FRAME + wheels + rests).running.road.rests_on == ("w0", "w1", "w2")


def test_a_road_that_is_stated_and_rests_on_wheels():
    road = FLOOR.replace("[road]", '[road]\ncontact = { on = "ground", at = [0, 0, 0] }')
    assert "a road that is a stated plane rests on nothing else" in one_fault(f"{FRAME}[wheels.w]\n{WHEEL}{road}")


def test_toe_set_where_no_drive_goes():
    told = faults(f"{FRAME}[wheels.w]\n{WHEEL}{FLOOR}toe_set_at = {{ tilt = 3 }}\n")
    assert "unknown drive `tilt`" in told[0]


@pytest.mark.parametrize(
    ("wheels", "figure", "needs"),
    [
        ("", "lean", "write [wheels.NAME] for each wheel"),
        ("", "track", "a left and a right wheel of one axle"),
        (f"[wheels.w]\n{WHEEL}", "total_toe", "a left and a right wheel of one axle"),
        (f"[wheels.w]\n{WHEEL}[wheels.v]\n{WHEEL.replace('300', '-300')}", "wheelbase", "a stated contact behind them"),
    ],
)
def test_a_limit_of_the_road_that_no_wheels_of_the_file_can_break(wheels, figure, needs):
    """It was left out in silence, and the machine told clear."""
    told = one_fault(f"{FRAME}{wheels}{FLOOR}limits = {{ {figure} = [5, 6] }}\n")
    assert f"road.limits.{figure}: no wheels of this file have `{figure}`, so that this limit holds nothing" in told
    assert needs in told


def test_a_road_that_rests_on_wheels_of_a_file_without_any():
    """The program broke off with the name as its only word."""
    told = faults(f"{FRAME}[road]\nrests_on = ['a', 'b', 'c']\n")
    assert len(told) == 3
    assert "road.rests_on[0]: unknown wheel `a`; this file has no wheels" in told[0]
