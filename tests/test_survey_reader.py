"""What was measured on the machine, and which numbers may differ there: read, and refused in one line each."""

import pytest
from survey_machines import arm_text, read, tape

from assembly.errors import InputError
from assembly.model.measure import MeasureKind
from assembly.model.perturbed import Perturbations

LEVEL = """
[measured.slope]
level = { on = "arm", line = ["hinge", "tip"] }
reading = "0.2 + 0.1"
plus_minus = 0.1
"""


def faults(text):
    with pytest.raises(InputError) as caught:
        read(text)
    return [str(fault) for fault in caught.value.faults]


def test_readings_are_read_with_their_settings_in_the_order_of_the_file():
    survey = read(arm_text(tape("reach", 58.31, swing=20) + LEVEL)).survey
    reach, slope = survey.observations
    assert (reach.name, reach.measure.kind, reach.reading, reach.plus_minus) == (
        "reach",
        MeasureKind.DISTANCE,
        58.31,
        0.5,
    )
    assert dict(reach.at) == {"swing": 20.0}
    assert [one.words for one in reach.measure.features] == ["tip of arm", "anchor of post"]
    assert (slope.measure.kind, slope.reading, dict(slope.at)) == (MeasureKind.LEVEL, pytest.approx(0.3), {})


def test_marks_name_each_number_its_value_and_how_far_off_it_may_be():
    text = arm_text("").replace(
        'shapes = [{ name = "end"',
        'set_length = { from = "hinge", to = "tip", is = 101, may_differ = 2 }\nshapes = [{ name = "end"',
    )
    marked = {one.name: one for one in read(text).survey.uncertain}
    assert {name: (one.value, one.may_differ, one.written) for name, one in marked.items()} == {
        "arm": (100, 5, ""),
        "anchor.x": (150, 4, "out"),
        "anchor.y": (30, 4, ""),
        "arm.set_length": (101, 2, ""),
    }
    assert marked["anchor.x"].place == ("points", "anchor", 0)
    assert (
        marked["anchor.x"].line
        == text.splitlines().index('anchor = { at = ["out", 30, 0], may_differ = [4, 4, 0] }') + 1
    )


def test_a_marked_point_is_the_same_machine_as_the_plain_one():
    marked, plain = (
        read(arm_text("")),
        read(arm_text("").replace('{ at = ["out", 30, 0], may_differ = [4, 4, 0] }', '["out", 30, 0]')),
    )
    assert marked.points == plain.points
    assert [one.place for one in Perturbations(marked).parameters] == [
        one.place for one in Perturbations(plain).parameters
    ]


def test_another_number_at_a_marked_point_moves_what_is_measured_from_it():
    perturbations = Perturbations(read(arm_text(tape("reach", 58.31))))
    before, after = (
        perturbations.reading(numbers).observed["reach"] for numbers in ({}, {("points", "anchor", 1): 33.0})
    )
    assert (before.features[1].at, after.features[1].at) == ((150, 30, 0), (150, 33, 0))


@pytest.mark.parametrize(
    ("measured", "told"),
    [
        (tape("a", 60, error=0), "measured.a.plus_minus: 0 is no reading error; give what it may be off by"),
        (tape("a", 60, error=-0.5), "measured.a.plus_minus: -0.5 is no reading error"),
        (tape("a", 60).replace("swing = 0", "steer = 0"), "measured.a.at.steer: unknown drive `steer`"),
        (tape("a", 60, swing=75), "measured.a.at.swing: drive `swing` cannot be set to 75; its range is -60 to 60"),
        (
            tape("a", 60, ends=("arm", "tpi", "post", "anchor")),
            "unknown point `tpi`; the nearest of the points is `tip`",
        ),
        (tape("a", 60, ends=("arn", "tip", "post", "anchor")), "unknown part `arn`; the nearest of the parts is `arm`"),
        (tape("a", -60), "measured.a.reading: -60 mm is no distance"),
        (tape("a", 60).replace("reading", "read"), "a reading of a distance has no key `read`; the nearest"),
        ("[measured.a]\nreading = 3\nplus_minus = 1\n", "no kind of reading among the keys `reading`, `plus_minus`"),
        (LEVEL.replace('"0.2 + 0.1"', "200"), "measured.slope.reading: 200 degrees is more than any such angle"),
        (LEVEL + 'unit = "mm"\n', "measured.slope.unit: an angle is not told in mm"),
        (LEVEL + "most = 3\n", "a reading of a level has no key `most`"),
    ],
    ids=lambda value: value[-40:] if len(value) < 80 else "reading",
)
def test_a_faulty_reading_is_one_line(measured, told):
    line = next(line for line in faults(arm_text(measured)) if told in line)
    assert line.startswith("machine.toml:")


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("may_differ = 5", "may_differ = 0", "dimensions.arm.may_differ: 0 is no amount to differ by"),
        ("may_differ = 5", "may_differ = -2", "dimensions.arm.may_differ: -2 is no amount to differ by"),
        ("[4, 4, 0]", "[4, -4, 0]", "points.anchor.may_differ[1]: -4 is no amount to differ by"),
        ("[4, 4, 0]", "[4, 4]", "points.anchor.may_differ: 2 entries in this list"),
        ("[4, 4, 0]", '"much"', "unknown dimension `much`"),
        (
            "value = 100",
            'value = "out - 50"',
            "arithmetic stands here, so it cannot be off by itself; mark the dimensions",
        ),
        ("at = [", "et = [", "points.anchor: `at` is missing; a point needs it"),
    ],
)
def test_a_faulty_mark_is_one_line(old, new, told):
    assert any(told in line for line in faults(arm_text("").replace(old, new)))
