"""What a report says of joints and rods, from records made by hand and from a run."""

import io
from dataclasses import replace

import pytest
from rod_machines import twisted_rod
from small_machines import quiet, read, slider
from test_joint_ranges import bracket
from test_sweep_text import CALM, CLEAR_PAIR, PIN, record, text_of

from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.record import FirstOutEntry, RodEntry
from assembly.report.text.joints_text import joint_blocks
from assembly.report.text.terminal import write
from assembly.studies.sweep.check import check
from assembly.studies.sweep.joint_ranges import joints_of
from assembly.studies.sweep.sweep_record import sweep_record

AT = {"tilt": 30.0, "steer": -35.0}
HINGE = replace(
    PIN,
    least=-20.01,
    most=31.0,
    proven_least=-20.04,
    proven_most=31.02,
    limit=30.0,
    reserve=-1.0,
    limit_low=-25.0,
    limit_high=30.0,
    reserve_low=4.99,
    reserve_high=-1.0,
    at_least={"tilt": -30.0, "steer": 0.0},
    spent=None,
    verdict="fails",
)
ROD = RodEntry(
    parts=("tie_rod",),
    ends=("inner", "outer"),
    settings=961,
    free=3.27,
    at=AT,
    common_roll=0.0,
    common_room=1.5,
    first_out="inner",
    left=2.96,
    clocking=None,
    clocked_free=None,
    verdict="clear",
)


def joint_words(told):
    stream = io.StringIO()
    write(joint_blocks(told), stream)
    return " ".join(stream.getvalue().split())


def run_of(text):
    checked = check(read(text), Effort(decide_only=True), quiet)
    return sweep_record(checked, joints_of(checked.mechanism))


def test_both_sides_of_a_limit_have_their_row_and_the_passed_one_is_said():
    lines = joint_words(record("fails", joints=(CALM, HINGE)))
    assert "hinge turn up 31.0° 31.1° 30.0° −1.0° tilt +27.41°, steer 0° PAST ITS LIMIT" in lines
    assert "hinge turn down −20.1° −20.1° −25.0° 4.9° tilt −30°, steer 0° calm_end" in lines  # nothing behind its place


@pytest.mark.parametrize(
    ("most", "proven", "told"),
    [(30.0, 30.0, "30.0° 30.0°"), (30.01, 30.1, "30.1° 30.1°"), (29.96, 30.0001, "30.0° 30.1°")],
)
def test_what_is_reached_is_never_rounded_down(most, proven, told):
    assert f"calm_end {told}" in joint_words(record("clear", joints=(replace(CALM, most=most, proven_most=proven),)))


def test_a_rod_that_never_binds_is_not_called_clear_beside_a_design_that_fails():
    lines = joint_words(record("fails", rods=(ROD,)))
    assert "nowhere tie_rod 3.2° as drawn ± 1.5° inner (2.9° margin)" in lines
    assert "CLEAR" not in lines
    none = replace(ROD, common_room=-1.0, left=-8.0)
    assert "nowhere tie_rod 3.2° none – " in joint_words(record("fails", rods=(none,)))


@pytest.mark.parametrize(("reserve", "told"), [(3.99, "3.9°"), (4.0, "4.0°"), (-0.01, "−0.1°")])
def test_reserve_is_never_rounded_up(reserve, told):
    lines = joint_words(record("clear", joints=(replace(CALM, reserve_high=reserve),)))
    assert f"22.0° {told}" in lines


def test_limit_that_is_not_proven_and_one_without_a_proof_are_said():
    joint = replace(CALM, verdict="undecided", proven_most=None)
    assert "calm_end 12.0° – 22.0° 10.0° 0.0° tilt +27.41°, steer 0° not proven" in joint_words(
        record("undecided", joints=(joint,))
    )


def test_mounting_that_limits_is_named_and_the_angle_spent_at_rest_is_shown():
    lines = joint_words(record("clear", joints=(replace(CALM, limiter="the fork's cheek", spent=5.04),)))
    assert "10.0° 5.0° tilt +27.41°, steer 0° (the fork's cheek)" in lines


def test_what_runs_out_first_takes_a_line_for_each_direction():
    first = FirstOutEntry("tilt", 1, "inner", "misalignment", "deg", 34.0, 3.96, AT)
    past = FirstOutEntry("steer", -1, "guide", "travel", "mm", -20.0, -1.5, AT)
    far = FirstOutEntry("steer", 1, "outer", "misalignment", "deg", 34.0, 30.0, AT)
    lines = joint_words(record("fails", first_out=(first, past, far)))
    assert "steer up: no joint comes near its limit; nearest outer, 30.0° short of its 34° limit, at tilt" in lines
    assert "tilt up: inner, 3.9° short of its 34° limit, at tilt +30°, steer −35°" in lines
    assert "steer down: guide travel, 1.5 mm past its −20 mm limit, at tilt +30°, steer −35°" in lines


def test_rod_that_rolls_freely_tells_how_far_and_that_it_needs_no_clocking():
    lines = joint_words(record("clear", rods=(replace(ROD, clocking=0.0, clocked_free=3.27),)))
    assert "961 settings looked at" in lines
    assert "nowhere tie_rod 3.2° as drawn ± 1.5° inner (2.9° margin) as drawn at: tilt +30°, steer −35°" in lines


def test_rod_that_binds_leads_where_no_joint_fails_and_is_told_how_to_clock():
    rod = replace(ROD, free=-2.0, common_room=-3.0, left=-3.0, clocking=-20.0, clocked_free=8.04, verdict="fails")
    lines = text_of(record("fails", [CLEAR_PAIR], rods=(rod,)))
    assert (
        "FAILS: tie_rod binds at tilt +30°, steer −35°: however it rolls, inner or outer is past its angle limit"
        in lines
    )
    assert (
        "BINDS tie_rod 1.0° missing none inner (−3.0° margin) best clocking: outer 20.0° counter-clockwise seen from"
        in lines
    )
    assert "1.0° missing: slacken a nut and turn outer on the rod by 20.0° counter-clockwise, seen from inner" in lines
    assert "it can then roll 8.0° at the least" in lines


def test_rod_that_no_clocking_helps_needs_more_angle():
    rod = replace(ROD, free=-2.0, clocking=-20.0, clocked_free=-1.0, verdict="fails")
    assert "no clocking of its ends helps: give inner more angle" in text_of(record("fails", [CLEAR_PAIR], rods=(rod,)))


def test_ends_of_a_rod_that_rolls_on_with_the_drive_are_told_where_it_rolls_to():
    """Closed form: both bolts turn about the rod's line, so that rolled with them neither end leans."""
    lines = joint_words(run_of(twisted_rod(-30, 30, near="carrier")))
    assert "near, far: no one roll of the rod serves everywhere; rolled at each setting" in lines
    assert "near 0.0° 14.0° 14.0° 14.0°" in lines or "near 0.1° 14.0° 14.0° 13.9°" in lines
    assert "PAST ITS LIMIT" not in lines


def test_ends_of_a_rod_that_one_roll_serves_are_told_with_that_roll():
    """Closed form: bolts twisted by 0 to 20 with ±14: rolled by 10 both lean 10 at the most."""
    assert "near, far: told with the rod rolled by +10°, which serves" in joint_words(run_of(twisted_rod(0, 20)))


def test_joint_without_limits_is_only_counted():
    assert "1 other motion of joints: see the record" in joint_words(record("clear", joints=(CALM, PIN)))
    assert joint_words(record("clear", joints=(PIN,))) == ""


class TestRun:
    def test_binding_rod_fails_the_machine(self):
        made = run_of(twisted_rod(-5, 30))
        assert made.verdict == "fails"
        assert made.rods[0].verdict == "fails"
        assert "past their limits: " in made.reason

    def test_rod_that_rolls_leaves_the_machine_clear_of_joints(self):
        made = run_of(twisted_rod(-30, 30, near="carrier"))
        assert {joint.verdict for joint in made.joints if joint.kind == "ball"} == {"clear"}
        assert made.rods[0].verdict == "clear"
        assert [first.reserve for first in made.first_out] == pytest.approx([14, 14], abs=1e-4)

    def test_pin_past_its_limit_fails_with_a_sentence(self):
        text = bracket(-9.3, 19.3, extra="limit = [-20, 15]")
        made = run_of(text)
        assert (made.verdict, made.reason) == ("fails", "past their limits: swing")
        lines = text_of(made)
        assert "FAILS: swing turns to 19.3° at lean +19.3°; its limit is 15°" in lines
        assert "swing goes 4.3° past its limit at lean +19.3°: stop the motion sooner" in lines

    def test_slide_past_its_limit_fails_with_a_sentence(self):
        made = run_of(slider().replace("along = [0, -1, 0]", "along = [0, -1, 0]\nlimit = [-4, 20]"))
        assert "FAILS: guide travels to −5.0 mm at push −5 mm; its limit is −4 mm" in text_of(made)

    def test_end_past_its_mounting_says_what_it_meets_and_what_is_spent(self):
        lines = text_of(run_of(bracket(-9, 20)))
        assert "FAILS: end leans 15.0° at lean +20°; its angle limit is 14.36° by the ball's own shoulder" in lines
        assert "end leans 0.6° too far at lean +20°: set its bolt or its housing over" in lines
        assert "(it leans 5.0° with all drives at 0 already)" in lines
        assert "give its mounting more clearance" in lines

    def test_limit_that_cannot_be_decided_leaves_the_machine_undecided(self, monkeypatch):
        monkeypatch.setattr("assembly.clearance.proof.joint_search.MOST_CHILDREN", 0)
        made = run_of(bracket(-9.36, 0))
        assert made.verdict == "undecided"
        assert made.reason == "not proven to keep their limits: end"
