"""Cables, rods and rod ends against reference values and builders' cases that no other test has."""

from math import asin, cos, degrees, exp, pi, radians, sin, sqrt, tan

import pytest
from cable_machines import BOX, ENDS, bars
from rod_machines import ROD
from rod_threads import RACK
from small_machines import read

import assembly

MU = {0.05: (0.854636, 0.790081), 0.1: (0.730403, 0.624228), 0.15: (0.624228, 0.493191)}
"""REFERENCE_VALUES 8.5 (capstan; formula from memory, recomputed): what comes through 180 and 270 degrees of bends."""


def on_the_frame(path, more):
    """A cable through points of what stands still, and a lid that moves elsewhere."""
    points = ", ".join(f'{{ on = "frame", at = [{x}, {y}, 0] }}' for x, y in path)
    return read(
        f"""
format = 1
name = "Fixed path"
[parts.frame]
fixed = true
shapes = [{{ box = [0, 0, -500], {BOX} }}]
[parts.lid]
shapes = [{{ box = [0, 0, 500], {BOX} }}]
[joints.hinge]
pin = ["frame", "lid"]
at = [0, 0, 500]
along = [0, 0, 1]
[drives.lid]
turns = {{ hinge = 1 }}
range = [-5, 5]
[cables.brake]
runs = [{{ through = [{points}], {more} }}]
"""
    )


@pytest.mark.parametrize("mu", MU)
def test_what_friction_leaves_of_a_pull_through_two_and_three_right_angles(mu):
    """8.5: exp(-mu times the angle), at 180 and at 270 degrees."""
    corners = [(0, 0), (200, 0), (200, 200), (0, 200), (0, 100)]
    for count, expected in ((4, MU[mu][0]), (5, MU[mu][1])):
        record = assembly.cables(on_the_frame(corners[:count], f"bend = 20 }}]\nfriction = {mu}\n#"))
        [cable] = record.cables
        assert cable.bends.zero == pytest.approx(90 * (count - 2))
        assert cable.through_at_zero == pytest.approx(expected, abs=1e-6)
        assert cable.through_at_zero == pytest.approx(exp(-mu * radians(90 * (count - 2))))


def test_the_length_of_an_arc_over_a_chord():
    """8.6 (closed form): a chord of 200 with a sag of 20 is of radius 260 and 205.291382 long."""
    half = asin(100 / 260)
    assert 260 - 260 * cos(half) == pytest.approx(20)
    corner = 100 * tan(half)
    lead = 10.0
    path = [(-100 - lead * cos(half), -lead * sin(half)), (0, corner), (100 + lead * cos(half), -lead * sin(half))]
    record = assembly.cables(on_the_frame(path, "bend = 260"))
    assert record.cables[0].path.zero - 2 * lead == pytest.approx(205.291382, abs=1e-6)
    assert record.cables[0].straight.zero == pytest.approx(lead, abs=1e-6)
    assert 2 * sin(pi / 4) * 60 == pytest.approx(84.852814, abs=1e-6)


def needed(d):
    """TC-04: the law of cosines."""
    return sqrt(68900 - 40000 * cos(radians(60 + d)))


def test_bars_that_turn_farther_one_way_than_the_other_need_what_the_farther_side_asks():
    """C19: 45 degrees one way and 15 the other, and 90 each way; lengths by TC-04's formula (closed form)."""
    cable = f"[cables.brake]\nruns = [{{ through = [{ENDS}] }}]\ninner = 241.98"
    record = assembly.cables(bars(cable, low=-45, high=15))
    assert record.verdict == "clear"
    slack = {one.to: one.slackest for one in record.cables[0].sides}
    assert slack[-45.0] == pytest.approx(173.96 - 241.98, abs=0.01)
    wide = assembly.cables(bars(f"[cables.brake]\nruns = [{{ through = [{ENDS}] }}]", low=-90, high=90)).cables[0]
    assert (wide.path.least, wide.path.most) == pytest.approx((needed(-60), needed(90)), abs=0.01)
    assert wide.inner_to_cut == pytest.approx(needed(90), abs=0.02)


def test_a_spring_brake_that_needs_a_pull_starts_where_its_free_cable_is_used_up():
    """TC-04: 255.0 of free cable is used up at +24.44 degrees, and 12 more are pulled at a path of 267."""
    cable = f"[cables.brake]\nruns = [{{ through = [{ENDS}] }}]\ninner = 255\nfree_play = 0\nfull_pull = 12"
    sides = {one.to: one for one in assembly.cables(bars(cable)).cables[0].sides}
    assert sides[45.0].pulled_from == pytest.approx(24.44, abs=0.01)
    assert needed(sides[45.0].full_from) == pytest.approx(267, abs=0.01)
    assert sides[-45.0].pulled_from is None


def rack(arm=80.0, rim=406.0, hand="left"):
    """Two wheels on arms of 80 with rims of 406, rods of M8."""
    text = RACK.replace("-100, 400, 200]", f"-{arm:g}, 400, 200]").replace('"400 - reach", 200]', '"400 - reach", 200]')
    text = (
        text.replace("tyre_diameter = 400", "tyre_diameter = 500")
        .replace("inner_left = [-100,", f"inner_left = [-{arm:g},")
        .replace("rim_diameter = 305", f"rim_diameter = {rim:g}")
    )
    return read(
        text.replace(
            'joint = "arm_left", size = "M8", hand = "left"', f'joint = "arm_left", size = "M8", hand = "{hand}"'
        )
    )


def test_what_half_a_turn_and_a_flat_make_at_the_rim():
    """C17, TC-05c: half a turn of one M8 is 3.17 mm across 406 on an arm of 80, a flat of both hands 2.11.

    Closed form: a rod square to the arm turns it by asin(mm / 80), which is off by the rod's own slant of 1e-3 mm.
    """
    by_ends = assembly.rods(rack(hand="right"), ["rod_left"]).turned[0]
    half = next(step for step in by_ends.steps if step.mm == pytest.approx(0.625))
    told = {one.measure: one.longer for one in by_ends.measures}["wheel_left toe mm"]
    assert abs(told[by_ends.steps.index(half)]) == pytest.approx(3.17, abs=0.01)
    both = assembly.rods(rack(), ["rod_left"]).turned[0]
    told = {one.measure: one.longer for one in both.measures}["wheel_left toe mm"]
    flat = next(number for number, step in enumerate(both.steps) if step.mm == pytest.approx(2.5 / 6))
    assert abs(told[flat]) == pytest.approx(2.11, abs=0.01)


def test_what_two_millimetres_at_the_rim_ask_of_the_tube():
    """C17, TC-05c: 57 degrees of turn for each 2.0 mm of one wheel, so for 4.0 of both (closed form 56.75)."""
    [way] = assembly.rods(rack(), ["rod_left"], toe=4.0).ways
    assert 360 * way.turns == pytest.approx(57, abs=0.5)
    assert 360 * way.turns == pytest.approx(360 * 80 * (2.0 / 406) / 2.5, abs=0.3)


@pytest.mark.parametrize(("limit", "verdict"), [(20.5, "clear"), (19.5, "fails")])
def test_the_least_a_rod_end_leans_over_all_rolls_is_how_far_its_bolt_leans_along_the_rod(limit, verdict):
    """REFERENCE_VALUES 3.7 (derived): asin |n · r|, for a bolt that leans 20 degrees along the rod."""
    lean = radians(20)
    text = ROD.format(low=-0.5, high=0.5, limit=limit, eye=(0, 1), near="frame")
    bolt = f"bolt = [0, {sin(lean):.15g}, {cos(lean):.15g}]\neye = [0, 0, 1]"
    text = text.replace("bolt = [0, 0, 1]", bolt, 1)
    record = assembly.sweep(read(text), effort=assembly.Effort(decide_only=True), cached=False).record
    near = next(one for one in record.joints if one.name == "near")
    assert near.most == pytest.approx(degrees(asin(sin(lean))), abs=0.02)
    assert near.verdict == verdict
