"""Washers, turns and steps as variants: what they make of a machine, held against closed forms."""

from math import asin, atan2, degrees, hypot, radians

import pytest
from small_machines import read

import assembly
from assembly.api.variants.asked import all_combinations
from assembly.errors import InputError
from assembly.model.variation import Variables, varied_machine

HINGE = """
format = 1
name = "Hinge"
[dimensions]
packing = { value = 3, may_be = [0, 9], step = 1.5 }
bar = { value = 18, sizes = [16, 18, 20] }
loose = { value = 4, may_be = [1, 5] }
[mirror]
left = "right"
[parts.frame]
fixed = true
shapes = [{ box = [0, 0, 0], size = ["bar", 20, "packing + loose"] }]
[parts.lever_left]
shapes = [{ box = [0, 26, 0], size = [10, 10, 10] }]
[joints]
hinge_left = { pin = ["frame", "lever_left"], at = [0, 20, 0], along = [0, 1, 0] }
stub = { ball = ["frame", "weight"], at = [0, 0, 60] }
[parts.weight]
shapes = [{ box = [0, 0, 70], size = [4, 4, 4] }]
[joints.hold]
welded = ["frame", "weight"]
[drives.swing]
turns = { hinge_left = 1, hinge_right = 1 }
range = [-1, 1]
"""
"""The levers turn about y at their sides of the frame, 11 away from it (closed form)."""

LEVER = """
format = 1
name = "Lever"
facet_error = 0.5
[dimensions]
length = 300
[points]
near = [80, 0, 0]
far = [80, 300, 0]
[parts.frame]
fixed = true
shapes = [{ box = [-60, 0, 0], size = [6, 6, 6] }]
[parts.lever]
shapes = [{ box = [40, 0, 0], size = [6, 6, 6] }]
[parts.rod]
set_length = { from = "far", to = "near", is = "length" }
shapes = [{ rod = [[80, 100, 0], [80, 200, 0]], diameter = 6 }]
[parts.bar]
shapes = [{ box = [80, 340, 0], size = [6, 6, 6] }]
[joints]
pivot = { pin = ["frame", "lever"], at = [0, 0, 0], along = [0, 0, 1], limit = [-20, 20] }
near = { ball = ["rod", "lever"], at = "near" }
far = { ball = ["rod", "bar"], at = "far" }
guide = { slide = ["frame", "bar"], at = "far", along = [0, 1, 0] }
[drives.push]
slides = { guide = 1 }
range = [-4, 4]
"""
"""TC-05c as a linkage: an arm of 80 and a rod square to it, of which one end is screwed in or out."""

STOPS = """
format = 1
name = "Block with stops"
[parts.base]
fixed = true
shapes = [{ name = "post", box = [0, 40, 0], size = [20, 20, 20] }]
[parts.wall]
fixed = true
shapes = [{ name = "wall", box = [0, -29, 0], size = [20, 10, 20] }]
[parts.sledge]
shapes = [{ name = "nose", box = [0, 0, 0], size = [20, 20, 20] }]
[joints.guide]
slide = ["base", "sledge"]
at = [0, 0, 0]
along = [0, 1, 0]
[drives.push]
slides = { guide = 1 }
range = [-8, 18]
[stops.front]
drive = "push"
side = "high"
parts = ["sledge", "base"]
at = [0, 30, 0]
along = [0, -1, 0]
bolt = { diameter = 6, pitch = 1.25 }
height = 5
[stops.back]
drive = "push"
side = "low"
parts = ["sledge", "wall"]
at = [0, -24, 0]
along = [0, 1, 0]
pad = { square = 6 }
height = 8
step = 1.5
[clearance]
required = 1
"""
"""The nose ends 20 before the post: a stop of height h on it is struck at 20 - h (closed form)."""


def values(machine, *wanted):
    """What each number becomes, variant by variant."""
    return [tuple(one.values.values()) for one in all_combinations(Variables(machine), wanted).sets]


@pytest.fixture(scope="module")
def hinge():
    return read(HINGE)


def test_counts_are_from_what_the_file_has_and_in_the_files_own_steps_or_in_those_given(hinge):
    assert values(hinge, "packing=-1,2 steps") == [(3.0,), (1.5,), (6.0,)]
    assert values(hinge, "packing=1,2 washers of 0.8") == [(3.0,), (3.8,), (4.6,)]
    assert values(hinge, "packing=-1 half turn of M8") == [(3.0,), (2.375,)]
    assert values(hinge, "packing=2 turns of m6") == [(3.0,), (5.0,)]
    assert values(hinge, "packing=0:0.3:0.1") == [(3.0,), (0.0,), (0.1,), (0.2,), (0.3,)]
    assert values(hinge, "packing=all") == [(3.0,), *((1.5 * k,) for k in range(7) if k != 2)]
    assert values(hinge, "bar=all", "packing=3,4.5") == [(18, 3), (16, 3), (16, 4.5), (18, 4.5), (20, 3), (20, 4.5)]


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ("loose=all", "the file has no list of what `loose` may be"),
        ("loose=1 step", "does not say how much one is; write loose=1 step of 1.5"),
        ("hinge_left=1", "does not say how thick a washer is; write hinge_left=1,2 washers of 1.5"),
        ("hinge_right=1 washer of 1", "joint `hinge_right` is the twin of `hinge_left`; name `hinge_left`"),
        ("stub=1 washer of 1", "joint `stub` has no line along which a washer could sit"),
    ],
)
def test_a_count_that_says_too_little_is_one_clear_line(hinge, given, told):
    with pytest.raises(InputError) as error:
        all_combinations(Variables(hinge), [given])
    (fault,) = error.value.faults
    assert told in str(fault)


def test_a_washer_at_a_pin_moves_what_hangs_on_it_on_both_sides(hinge):
    """Closed form: 11 and 1.5 for each washer between frame and lever, whichever side."""
    record = assembly.variants(read(HINGE.replace("stub = ", "# ")), "hinge_left=2 washers of 1.5").record
    for one, gap in zip(record.entries, (11.0, 14.0), strict=True):
        pairs = {frozenset((pair.a, pair.b)): pair for pair in one.pairs}
        for lever in ("lever_left", "lever_right"):
            assert pairs[frozenset(("frame", lever))].least_mm == pytest.approx(gap, abs=1e-5)
    assert record.best.rows == (1,)
    assert (record.varied[0].counted, record.varied[0].step) == ("washers of 1.5 mm", 1.5)


def turned(length, setting):
    """Degrees by which the arm of 80 stands turned where a rod of ``length`` reaches to (80, 300 + setting)."""
    away, up = hypot(80, 300 + setting), degrees(atan2(300 + setting, 80))
    # the triangle of arm, rod and the line from the pivot to the rod's far end (law of cosines)
    cosine = (80**2 + away**2 - length**2) / (2 * 80 * away)
    return up - degrees(radians(90) - asin(cosine))


def test_half_turns_of_a_rod_end_turn_the_lever_as_worked_out():
    """TC-05c: half a turn of M8 on an arm of 80 is asin(0.625/80) = 0.448 degrees; over the range by the triangle."""
    made = read(LEVER)
    assert turned(300.625, 0.0) == pytest.approx(-degrees(asin(0.625 / 80)), abs=0.005)
    record = assembly.variants(made, "rod.set_length=1 half turn of M8").record
    assert [one.values["rod.set_length"] for one in record.entries] == [300.0, 300.625]
    for one in record.entries:
        length = one.values["rod.set_length"]
        (pivot,) = [joint for joint in one.joints if joint.name == "pivot"]
        assert pivot.least == pytest.approx(turned(length, -4.0), abs=1e-4)
        assert pivot.most == pytest.approx(turned(length, 4.0), abs=1e-4)
        assert one.first_joint.joint == "pivot"


def test_a_stop_bolt_goes_out_by_turns_of_its_own_pitch_and_a_pad_by_its_own_steps():
    made = read(STOPS)
    assert values(made, "front=1,2 turns", "back=-1 steps") == [(5, 8), (6.25, 6.5), (7.5, 6.5)]
    (front,) = all_combinations(Variables(made), ["front=1 turn"]).sets[1].values
    assert varied_machine(made, {front: 6.25}).stops["front"].height == 6.25
    record = assembly.variants(made, "stops.front=1 turn").record
    for one, height in zip(record.entries, (5.0, 6.25), strict=True):
        front, back = one.stops
        assert (front.name, front.height_mm) == ("front", height)
        assert front.acts_from == pytest.approx(20 - height, abs=1e-3)
        assert back.acts_from == pytest.approx(-6.0, abs=1e-3)
        assert one.stops_verdict == "clear"
    assert "stops" in record.entries[1].differs


def test_a_stop_whose_height_is_not_known_is_told_how_to_find_it():
    made = read(STOPS.replace("height = 5\n", ""))
    with pytest.raises(InputError, match="has no height yet; `swingroom stop machine"):
        Variables(made).named("front")


# BUILDERS_CASES C02, C03 and C13, worked examples, own models
def test_what_three_builders_changed_side_by_side():
    made = assembly.load("tests/cases/three_shops_on_one_bench.toml")
    changed = {"rod_height": 268.2, "raised": 7, "head": 11.1}
    record = assembly.variants(made, sets=[changed]).record
    own, other = ({(pair.a, pair.b): pair for pair in one.pairs} for one in record.entries)
    over, track, end = ("main_tube", "tie_rod"), ("wishbone", "track_rod"), ("fork", "rod_end")
    assert [own[pair].least_mm for pair in (over, track, end)] == pytest.approx([2.0, 3.3, 1.0], abs=0.02)
    assert other[over].depth_mm == pytest.approx(24.30, abs=0.03)
    assert other[track].least_mm == pytest.approx(10.30, abs=0.02)
    assert other[end].depth_mm == pytest.approx(0.60, abs=0.02)
    assert [one.verdict for one in record.entries] == ["clear", "fails"]
    assert set(record.entries[1].fails_now) == {over, end}
    assert record.entries[1].loses_most.lost_mm == pytest.approx(26.30, abs=0.03)
