"""Load cases against published statics (REFERENCE_VALUES 1.13, 7.10-7.14), stops in place of drives, and ratings."""

from dataclasses import replace

import front_ends
import known_linkages as known
import numpy as np
import pytest
from linkage_machines import GROUND, ORIGIN, X, Z, ball, machine, move, pin, planar, polar, slide, slides, turns, weld
from oracles import linkages

from assembly.errors import AssemblyError, InputError
from assembly.model.load_case import Force, LoadCase, Moment, Stop, Weight
from assembly.model.machine import RatedForce
from assembly.statics.ratings import Rating, RatingVerdict, check_ratings
from assembly.statics.reactions import SPLIT
from assembly.studies.load.load_cases import carried


def hold(made, case, settings=None):
    """What holds the machine at one setting, rest if none is given."""
    return carry(made, case, settings).held.loads


def carry(made, case, settings=None):
    """One load case at one setting, with its stop where it has one."""
    at = settings if settings is not None else np.zeros(len(made.drives))
    (only,) = carried(replace(made, loads={"case": case}), dict(zip(made.drives, at, strict=True))).cases
    return only


def effort(loads):
    (only,) = loads.drive_efforts
    return only.value


# 7.14: virtual work = free body; linkage of 1.1
def test_four_bar_carries_a_moment_from_rocker_to_crank():
    drawn = linkages.four_bar(40, 120, 80, 100, 60)[1]
    moved = move(known.four_bar(60), [40 - 60])
    assert moved.turn("rocker") + drawn == pytest.approx(57.324880, abs=6e-7)
    loads = hold(known.four_bar(60), LoadCase(moments=(Moment("rocker", (0, 0, 10)),)), [40 - 60])
    assert abs(effort(loads)) == pytest.approx(2.799194, abs=5e-7)
    assert loads.drive_efforts[0].unit == "N·m"
    for joint in ("knee", "wrist"):
        assert loads.reactions[joint].radial == pytest.approx(207.575, abs=5e-4)


# 7.14, closed form: w4/w2 = .279919 is positive, so the crank must hold back what the rocker is pushed by
def test_effort_is_what_the_drive_must_give():
    assert effort(hold(known.four_bar(40), LoadCase(moments=(Moment("rocker", (0, 0, 10)),)))) < 0
    assert effort(hold(known.four_bar(40), LoadCase(moments=(Moment("crank", (0, 0, -3)),)))) == pytest.approx(3)


def jack(angle):
    """A rhombus of 200 mm bars that carries a platform; the screw runs between its side corners."""
    side, top = 200 * np.cos(np.radians(angle)), 400 * np.sin(np.radians(angle))
    left, right, up = (-side, 0, top / 2), (side, 0, top / 2), (0, 0, top)
    places = {
        "foot_left": (GROUND, "low_left", ORIGIN),
        "foot_right": (GROUND, "low_right", ORIGIN),
        "left_low": ("low_left", "nut_left", left),
        "left_high": ("high_left", "nut_left", left),
        "right_low": ("low_right", "nut_right", right),
        "right_high": ("high_right", "nut_right", right),
        "top_left": ("high_left", "platform", up),
        "top_right": ("high_right", "platform", up),
    }
    joints = planar(places, (0, -1, 0))
    joints += [slide("screw", "nut_left", "nut_right", (0, 0, top / 2), X), slide("guide", GROUND, "platform", up, Z)]
    return machine(joints, slides(screw=1))


# 7.10: ecourses.ou.edu statics 10.1 and leancrew.com 2013/11: T = W cot(th), W = 1960
@pytest.mark.parametrize(("angle", "pull"), [(30, 3394.82), (45, 1960.00), (60, 1131.61)])
def test_screw_of_a_jack_pulls_as_published(angle, pull):
    loads = hold(jack(angle), LoadCase(forces=(Force("platform", (0, 0, 400), (0, 0, -1960)),)))
    assert effort(loads) == pytest.approx(-pull, abs=5e-3)
    assert loads.drive_efforts[0].unit == "N"


# 7.11: Hibbeler, Statics ex. 11.1: two bars of 10 kg and 25 N stand at atan(98.1 / 50) = 62.9928
@pytest.mark.parametrize(("angle", "sign"), [(62.9928, 0), (60, 1), (66, -1)])
def test_two_bars_stand_where_published(angle, sign):
    bar = polar(300, angle)
    joints = planar({"foot": (GROUND, "first", ORIGIN), "knee": ("first", "second", bar)})
    roller = np.array((2 * bar[0], 0, 0))
    joints += [pin("wrist", "second", "roller", roller), slide("guide", GROUND, "roller", roller, X)]
    weights = Weight("first", tuple(bar / 2), 10), Weight("second", tuple(bar * (1.5, 0.5, 0)), 10)
    case = LoadCase((Force("roller", tuple(roller), (-25, 0, 0)),), weights=weights, down=(0, -1, 0))
    torque = effort(hold(machine(joints, turns(foot=1)), case))
    assert torque == pytest.approx(0, abs=1e-4) if sign == 0 else torque * sign > 0.5


# 7.12: Hibbeler, Statics ex. 11.3: x_C = .981 m, C_x = 113.507 N; the same crank held by its pin instead (free body)
def test_slider_crank_is_held_as_published():
    made = known.slider_crank(600, 700, 0, 45)
    place = np.array(made.joints["small_end"].at_first)
    assert place[0] == pytest.approx(981, abs=0.5)
    case = LoadCase(forces=(Force("crank", tuple(polar(1000, 45)), (0, -120, 0)),))
    loads = hold(replace(made, drives={"guide": slides(guide=1)}), case)
    assert abs(effort(loads)) == pytest.approx(113.507, abs=5e-4)
    lean = np.arctan2(600 * np.sin(np.radians(45)), place[0] - 600 * np.cos(np.radians(45)))
    assert loads.reactions["big_end"].radial == pytest.approx(113.507 / np.cos(lean), abs=5e-4)
    assert loads.reactions["guide"].force.along(np.array((0, 1, 0))) == pytest.approx(113.507 * np.tan(lean), abs=5e-4)
    assert effort(hold(made, case)) == pytest.approx(120 * np.cos(np.radians(45)))


BETA = -0.0617138900142764496
SPRING = {"c0": 4530, "lo": 0.07785, "xc": 0.014, "yc": 0.072, "sc": 0.018, "sd": 0.02}
"""N/m and m: stiffness, free length, its foot, and its end on the bar between common hinge and B."""
CRANK, BAR = {"m": 0.04325, "I": 2.194e-6, "a": 0.00092}, {"m": 0.00365, "I": 4.410e-7, "a": 0.0115}
"""kg, kg·m² and m: the crank's centre from its pin, the bar's from its end at the crank."""


def squeezer():
    """The squeezer in its first position, and its spring's pull on the bar as a force; 1 m is drawn as 1000 mm."""
    places = {name: 1e3 * place for name, place in linkages.squeezer_hinges(BETA).items()}
    gamma, k = linkages.squeezer_angles(BETA)[2], linkages.SQUEEZER
    end = np.array(
        (
            k["xb"] + SPRING["sc"] * np.sin(gamma) + SPRING["sd"] * np.cos(gamma),
            k["yb"] + SPRING["sd"] * np.sin(gamma) - SPRING["sc"] * np.cos(gamma),
        )
    )
    way = end - (SPRING["xc"], SPRING["yc"])
    pull = -SPRING["c0"] * (1 - SPRING["lo"] / np.hypot(*way)) * way
    assert np.hypot(*pull) == pytest.approx(114.054002, abs=5e-7)
    return known.squeezer(places, 1e3), Force("bar_ss", (*(1e3 * end), 0), (*pull, 0))


def in_plane(reaction):
    return [reaction.force.along(np.array(axis)) for axis in (X, (0, 1, 0))]


# 1.13: Hairer & Wanner, Solving ODEs II, and the IVP test set (spring data from memory, proven by the force above):
# static hold with multipliers 98.550710, -6.089681 N and no torque on the crank, which stands in line with its bar
def test_squeezer_stands_still_without_torque_on_its_crank():
    made, spring = squeezer()
    loads = hold(made, LoadCase(forces=(spring,)))
    assert in_plane(loads.reactions["common_ss"]) == pytest.approx([98.550710, -6.089681], abs=5e-7)
    assert in_plane(loads.reactions["common_e"]) == pytest.approx([0, 0], abs=1e-9)
    assert effort(loads) == pytest.approx(0, abs=1e-9)


# 1.13: same source; d'Alembert's forces of crank and bar at the published accelerations, all speeds zero, with the
# driving torque of .033 as a load: nothing is left for the drive
def test_squeezer_moves_off_with_the_published_multipliers():
    made, spring = squeezer()
    turned, swung = 14222.44391995411, 14222.44391995411 - 10666.83293996559
    along, k = np.array((np.cos(BETA), np.sin(BETA))), linkages.SQUEEZER
    square = np.array((-along[1], along[0]))
    crank_centre, bar_centre = CRANK["a"] * along, (k["rr"] - BAR["a"]) * along
    inertia = (
        Force("crank", (*(1e3 * crank_centre), 0), (*(-CRANK["m"] * CRANK["a"] * turned * square), 0)),
        Force("bar_d", (*(1e3 * bar_centre), 0), (*(-BAR["m"] * (k["rr"] * turned - BAR["a"] * swung) * square), 0)),
    )
    moments = Moment("crank", (0, 0, 0.033 - CRANK["I"] * turned)), Moment("bar_d", (0, 0, -BAR["I"] * swung))
    loads = hold(made, LoadCase((spring, *inertia), moments))
    assert in_plane(loads.reactions["common_ss"]) == pytest.approx(
        [98.5668703962410896, -6.12268834425566265], abs=1e-8
    )
    assert effort(loads) == pytest.approx(0, abs=1e-10)


# 7.15: m g h sin(lean) = 294.3 N·m at 30 degrees (closed form), on a stop 110 mm beside the pin
@pytest.mark.parametrize("side", [1, -1])
def test_stop_takes_what_the_drive_held(side):
    made = machine([pin("lean", GROUND, "frame", ORIGIN, X)], turns(lean=1))
    moved = move(made, [-30 * side])
    stop = Stop("frame", GROUND, (0, 110 * side, 0), tuple(moved.frames("frame")[0, :3, 2]), "lean")
    case = LoadCase(weights=(Weight("frame", (0, 0, 600), 100),))
    assert effort(hold(made, case, [-30 * side])) == pytest.approx(side * 294.3)
    struck = carry(made, replace(case, stop=stop), [-30 * side])
    assert struck.stop_newtons == pytest.approx(294.3 / 0.110)
    assert effort(struck.stopped.loads) == pytest.approx(0, abs=1e-9)
    weight, pushed = np.array((0, 0, -981)), struck.stop_newtons * np.array(stop.push)
    assert struck.stopped.loads.reactions["lean"].force.known == pytest.approx(-weight - pushed)


# closed form: the upper arm stands up, the hand lies level; a pad on the arm, its face turned with it, holds the hand
def test_a_stops_push_turns_with_the_part_that_it_stands_against():
    joints = [pin("shoulder", GROUND, "arm", ORIGIN, X), pin("elbow", "arm", "hand", (0, 100, 0), X)]
    case = LoadCase(forces=(Force("hand", (0, 200, 0), (0, 0, -40)),))
    stop = Stop("hand", "arm", (0, 150, 0), (0, 1, 0), "elbow")
    struck = carry(machine(joints, turns(shoulder=1), turns(elbow=1)), replace(case, stop=stop), [90, -90])
    assert struck.stop_newtons == pytest.approx(40 * 100 / 50)
    shoulder, elbow = (each.value for each in struck.stopped.loads.drive_efforts)
    assert (shoulder, elbow) == pytest.approx((40 * 0.1, 0), abs=1e-9)
    assert struck.stopped.loads.reactions["elbow"].force.known == pytest.approx([0, 0, 40 - 80])
    assert struck.stopped.loads.reactions["shoulder"].force.known == pytest.approx([0, 0, 40])


# closed form: two levers of 100 and 50 about one pin, 300 N on the long one
def test_ratings_are_compared_with_the_force_and_sorted_by_reserve():
    joints = [pin("pivot", GROUND, "lever", ORIGIN, Z), *front_end_rod()]
    loads = hold(machine(joints, slides(guide=1)), LoadCase(forces=(Force("lever", (100, 0, 0), (0, -300, 0)),)))
    checks = check_ratings(loads.reactions, [Rating("rod_start", 700), Rating("rod_end", 599), Rating("pivot", 1000)])
    assert [check.rating.joint for check in checks] == ["rod_end", "rod_start", "pivot"]
    assert [check.newtons for check in checks] == pytest.approx([600, 600, 300])
    assert [check.verdict for check in checks] == [RatingVerdict.EXCEEDED, RatingVerdict.WITHIN, RatingVerdict.WITHIN]
    assert [check.reserve for check in checks] == pytest.approx([-1, 100, 700])


def front_end_rod():
    """A rod square to the lever, 50 from its pin, down to a block on a slide."""
    place, low = (50, 0, 0), (50, -80, 0)
    return [
        ball("rod_end", "lever", "rod", place),
        ball("rod_start", "rod", "block", low),
        slide("guide", GROUND, "block", low, (0, 1, 0)),
    ]


def test_open_force_is_rated_by_what_is_settled_alone():
    loads = hold(known.four_bar(40), LoadCase(moments=(Moment("rocker", (0, 0, 10)),)))
    ratings = [Rating("knee", 300), Rating("wrist", 200), Rating("rocker_pin", 300, RatedForce.RADIAL)]
    told = {check.rating.joint: check for check in check_ratings(loads.reactions, ratings)}
    assert list(told) == ["wrist", "knee", "rocker_pin"]
    assert (told["knee"].verdict, told["knee"].newtons) == (RatingVerdict.OPEN, None)
    assert told["knee"].least == pytest.approx(207.575, abs=5e-4)
    assert (told["wrist"].verdict, told["wrist"].reserve) == (RatingVerdict.EXCEEDED, None)
    assert told["rocker_pin"].verdict is RatingVerdict.WITHIN
    assert told["rocker_pin"].newtons == pytest.approx(207.575, abs=5e-4)


# 1.19: which of three cranks carries is a matter of stiffness; what the drive gives is not (closed form)
def test_machine_held_once_too_often_gets_no_split():
    made = known.parallelogram(third_misplaced=0.0)
    case = LoadCase(forces=(Force("coupler", (60, 40, 0), (100, 0, 0)),))
    loads = hold(made, case)
    for joint in ("left_top", "right_top", "third_top", "left_foot", "right_foot", "third_foot"):
        reaction = loads.reactions[joint]
        assert not reaction.unique
        assert reaction.note == SPLIT
        assert reaction.force.size is None
        assert reaction.radial is None
    assert effort(loads) == pytest.approx(-100 * 0.05 * -np.sin(np.radians(60)))
    two = hold(known.parallelogram(), case)
    assert all(two.reactions[joint].radial is not None for joint in ("left_top", "right_top", "right_foot"))
    assert effort(two) == pytest.approx(effort(loads))
    check = check_ratings(loads.reactions, [Rating("left_top", 1, RatedForce.RADIAL)])[0]
    assert check.newtons is None


# closed form: the parallelogram folds flat at 60 degrees less than drawn
def test_posture_near_a_dead_centre_is_called_out():
    case = LoadCase(forces=(Force("coupler", (60, 40, 0), (0, 1, 0)),))
    assert hold(known.parallelogram(), case).near_toggles == ()
    (near,) = hold(known.parallelogram(), case, [-59.0]).near_toggles
    assert near.share < 0.01
    assert set(near.parts) == {"coupler", "right_crank"}
    assert set(near.joints) == {"left_top", "right_top", "right_foot"}
    with pytest.raises(AssemblyError, match=r"dead centre: right_crank.* can move although every drive is held"):
        hold(known.parallelogram(), case, [-59.9999])


def test_welded_joints_are_said_not_to_be_told():
    made = machine([pin("pivot", GROUND, "arm", ORIGIN), weld("weld", "arm", "plate")], turns(pivot=1))
    loads = hold(made, LoadCase(weights=(Weight("plate", (30, 0, 0), 2),), down=(0, -1, 0)))
    assert [one.about for one in loads.not_told] == ["weld"]
    assert effort(loads) == pytest.approx(2 * 9.81 * 0.03)


def test_of_a_stop_that_the_load_leaves_nothing_is_told():
    made = machine([pin("lean", GROUND, "frame", ORIGIN, X)], turns(lean=1))
    case = LoadCase(forces=(Force("frame", (0, 50, 0), (0, 0, -10)),))
    away = Stop("frame", GROUND, (0, 110, 0), (0, 0, -1), "lean")
    struck = carry(made, replace(case, stop=away))
    assert struck.stopped is None
    assert struck.stop_newtons == pytest.approx(-10 * 50 / 110)  # closed form: the moment over the stop's lever


def test_bad_loads_ratings_and_stops_are_refused_in_words():
    made = machine([pin("lean", GROUND, "frame", ORIGIN, X)], turns(lean=1))
    case = LoadCase(forces=(Force("frame", (0, 50, 0), (0, 0, -10)),))
    loads = hold(made, case)
    stop = Stop("frame", GROUND, (0, 110, 0), (0, 0, 1), "lean")
    axle = front_ends.steered_axle(130, 300)
    for call, told in [
        (
            lambda: hold(made, LoadCase((Force("frme", (0, 0, 0), X),))),
            "nearest of the parts is `frame`",
        ),
        (lambda: check_ratings(loads.reactions, [Rating("lean", 0)]), "the rating of joint `lean` is 0 N; give"),
        (
            lambda: check_ratings(loads.reactions, [Rating("laen", 5)]),
            "the nearest of the joints that carry a reaction is `lean`",
        ),
        (
            lambda: check_ratings(hold(axle, CASE).reactions, [Rating("rod_end", 5, RatedForce.RADIAL)]),
            "no line that its rating could be told by",
        ),
        (lambda: carry(made, replace(case, stop=replace(stop, striker="fork"))), "the stop names `fork`"),
        (lambda: carry(made, replace(case, stop=replace(stop, drive="steer"))), "there is no drive `steer`"),
        (lambda: carry(made, replace(case, stop=replace(stop, push=(0, 0, 0)))), "stop's direction is 0; give"),
        (lambda: carry(made, replace(case, stop=replace(stop, push=(1, 0, 0)))), "does not act on drive `lean`"),
    ]:
        with pytest.raises(InputError) as raised:
            call()
        assert told in str(raised.value)
        assert all(fault.hint for fault in raised.value.faults)


CASE = LoadCase(forces=(Force("rod", (-130, 0, 0), (1, 0, 0)),))
