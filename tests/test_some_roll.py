"""Of a part with ``roll = "some"`` one roll is looked for at which all its pairs and ends hold over the whole range."""

from dataclasses import replace
from math import cos, radians, sin
from pathlib import Path

import numpy as np
import pytest

from assembly.clearance.narrow_phase.checked_pairs import gather_pairs
from assembly.clearance.narrow_phase.pair_result import Effort, Verdict
from assembly.clearance.narrow_phase.witness import Witnesses
from assembly.clearance.proof.blocked_roll import blocks_every_roll
from assembly.clearance.proof.joint_search import joint_search
from assembly.clearance.proof.solid_table import SolidTable
from assembly.errors import InputError
from assembly.kinematics.assembling import assemble
from assembly.kinematics.solver import solve
from assembly.model.reader import machine_from_text
from assembly.studies.inventory import inventory
from assembly.studies.look import look
from assembly.studies.sweep.check import CheckResult, check
from assembly.studies.sweep.joint_ranges import joints_of
from assembly.studies.sweep.sweep_record import sweep_record
from assembly.studies.usable.usable_range import RangeWish, find_usable_range

CASES = Path(__file__).resolve().parent / "cases"
LUG = (CASES / "rolling_rod_with_lug.toml").read_text()
SOME = LUG.replace("[parts.pushrod]", '[parts.pushrod]\nroll = "some"')
CLOCKED = SOME.replace("clock = 0 ", "clock = 10 ").replace("need = 20", "need = 1")
"""Closed form: the ends lean by |roll| and |roll + 10 - r|, so that they allow -12 to 1 degrees at every setting."""
WALL = 8.0
"""mm: the walls' faces from the rod's line; the lug is 6 mm thick, and its top is 120 mm off the line."""
TWINS = """
    format = 1
    name = "two push rods"
    [dimensions]
    clock = 10
    [points]
    end1_left = [0, 300, 0]
    end2_left = [400, 300, 0]
    [parts.ground]
    fixed = true
    shapes = [
      { name = "wall", box = [200, 328, 115], size = [20, 40, 10] },
      { name = "wall within", box = [200, 272, 115], size = [20, 40, 10] },
      { name = "other wall", box = [200, -328, 115], size = [20, 40, 10] },
      { name = "other wall within", box = [200, -272, 115], size = [20, 40, 10] },
    ]
    [parts.stick_left]
    shapes = [{ name = "knob", box = [-60, 300, 0], size = [10, 10, 10] }]
    [parts.pushrod_left]
    roll = "some"
    shapes = [
      { name = "tube", rod = [[30, 300, 0], [370, 300, 0]], diameter = 14 },
      { name = "lug", box = [200, 300, 60], size = [20, 6, 120] },
    ]
    [joints.roll_left]
    pin = ["ground", "stick_left"]
    at = [-60, 300, 0]
    along = [1, 0, 0]
    [joints.b1_left]
    ball = ["pushrod_left", "stick_left"]
    at = "end1_left"
    bolt = [0, 0, 1]
    eye = [0, "-sin(clock)", "cos(clock)"]
    misalignment = 12
    [joints.b2_left]
    ball = ["pushrod_left", "ground"]
    at = "end2_left"
    bolt = [0, 0, 1]
    misalignment = 12
    [drives.r]
    turns = { roll_left = 1, roll_right = -1 }
    range = [-1, 1]
    [mirror]
    left = "right"
    [clearance]
    required = 1
"""


def swept(text: str, effort: Effort | None = None) -> CheckResult:
    return check(machine_from_text(text, CASES), effort or Effort(), lambda *_: None)


def pair(result: CheckResult, a: str, b: str):
    return next(found.result for found in result.found if {found.result.pair.a, found.result.pair.b} == {a, b})


def record(result: CheckResult):
    search = joint_search(result.mechanism, result.swept.groups)
    return sweep_record(result, joints_of(result.mechanism, search))


def test_one_roll_at_which_pairs_and_ends_hold_is_taken_for_all_of_them():
    result = swept(CLOCKED)
    (chosen,) = result.rolls
    assert chosen.parts == ("pushrod",)
    turned = radians(abs(chosen.degrees))
    lug = pair(result, "ground", "pushrod")
    assert (lug.verdict, lug.rolls) == (Verdict.CLEAR, ())
    assert lug.least == pytest.approx(WALL - 120 * sin(turned) - 3 * cos(turned), abs=1e-3)
    made = record(result)
    assert made.verdict == "clear"
    ends = {joint.name: joint for joint in made.joints if joint.name in {"b1", "b2"}}
    assert ends["b1"].most == pytest.approx(abs(chosen.degrees + 10) + 1, abs=1e-3)
    assert ends["b2"].most == pytest.approx(abs(chosen.degrees), abs=1e-3)
    assert {joint.verdict for joint in ends.values()} == {"clear"}
    (held,) = [freedom.held for freedom in made.freedoms]
    assert f"holds at every setting at roll {chosen.degrees:+g} degrees" in held
    assert f"{chosen.tried} of {chosen.candidates} tried" in held


# closed form: the walls leave ±2.35 degrees; the one roll that suits the ends best, -5.5, strikes
def test_a_roll_that_strikes_is_passed_over():
    (chosen,) = swept(CLOCKED).rolls
    assert chosen.tried > 1
    assert abs(chosen.degrees) < 2.35


# closed form: clocked by 20 the ends allow -12 to -9 degrees at every setting, and the walls ±2.35
def test_ends_that_allow_only_rolls_that_strike_fail():
    result = swept(CLOCKED.replace("clock = 10", "clock = 20"))
    (chosen,) = result.rolls
    assert chosen.degrees is None
    assert chosen.tried == chosen.candidates == 7
    assert pair(result, "ground", "pushrod").verdict is Verdict.FAILS
    assert record(result).verdict == "fails"


# closed form: at r = ±20 the ends allow 8 to 12 and -12 to -8 degrees only, and the walls ±2.35
def test_a_setting_at_which_every_roll_is_blocked_fails():
    result = swept(SOME)
    (chosen,) = result.rolls
    assert (chosen.degrees, chosen.candidates) == (None, 0)
    lug = pair(result, "ground", "pushrod")
    assert lug.verdict is Verdict.FAILS
    assert abs(lug.at[0]) > 12 + 1.9
    assert "blocks every roll of pushrod" in lug.why
    made = record(result)
    assert made.verdict == "fails"
    assert "no single roll was found" in made.freedoms[0].held
    assert "ground and pushrod are too near at every roll" in made.freedoms[0].held


# closed form: at r = ±13 the ends allow 1 to 12 and -12 to -1 degrees: 1.5 and -1.5 do, but no one roll does
def test_a_roll_that_has_to_change_with_the_setting_is_undecided():
    result = swept(SOME.replace("need = 20", "need = 13"))
    assert [chosen.degrees for chosen in result.rolls] == [None]
    lug = pair(result, "ground", "pushrod")
    assert lug.verdict is Verdict.UNDECIDED
    assert "no single roll of pushrod was found" in lug.why
    assert (lug.overlap, lug.region, lug.first_contacts) == (None, None, ())
    assert record(result).verdict == "undecided"


# closed form: the ends allow no roll nearer to 0 than r - 12, at which the walls leave 8 - (120 sin + 3 cos) of 1 mm
@pytest.mark.parametrize(("r", "blocked"), [(13.0, False), (13.85, False), (-13.85, False), (13.95, True), (-20, True)])
def test_every_roll_is_shown_blocked_where_the_last_one_is(r, blocked):
    least = WALL - 120 * sin(radians(abs(r) - 12)) - 3 * cos(radians(abs(r) - 12))
    assert (least < 1) is blocked
    mechanism = assemble(machine_from_text(SOME, CASES))
    pairs = gather_pairs(mechanism.machine, mechanism.bodies)
    (search,) = SolidTable(mechanism, pairs.solids).add(one for one in pairs.checked if one.b == "pushrod")
    witnesses, posture = Witnesses(mechanism, pairs.solids), solve(mechanism, np.array([[r]])).posture
    assert blocks_every_roll(mechanism, witnesses, search, posture) is blocked


def test_a_twin_tries_the_mirrored_roll_first():
    result = swept(TWINS)
    left, right = result.rolls
    assert (left.parts, right.parts) == (("pushrod_left",), ("pushrod_right",))
    assert right.degrees == -left.degrees
    assert (right.tried, left.tried > 1) == (1, True)
    ground = [pair(result, "ground", f"pushrod_{side}") for side in ("left", "right")]
    assert [one.verdict for one in ground] == [Verdict.CLEAR, Verdict.CLEAR]
    assert ground[0].least == pytest.approx(ground[1].least, abs=1e-6)


# closed form: a ball that leans by |roll| keeps 1 degree within ±1, and the mirrored roll is about 1.6
def test_a_roll_at_which_an_end_passes_its_limit_is_passed_over():
    machine = machine_from_text(TWINS, CASES)
    end = replace(machine.joints["b2_right"], misalignment=1.0)
    result = check(replace(machine, joints={**machine.joints, end.name: end}), Effort(), lambda *_: None)
    left, right = (chosen.degrees for chosen in result.rolls)
    assert abs(left) > 1
    assert abs(right) <= 1


def test_time_that_trials_take_is_taken_off_the_time_allowed():
    (chosen,) = swept(CLOCKED, Effort(budget_s=1e-6)).rolls
    assert (chosen.degrees, chosen.tried, chosen.candidates) == (None, 0, 7)


def test_what_is_known_of_a_roll_before_a_sweep_is_what_the_file_asks():
    (entry,) = inventory(machine_from_text(SOME, CASES)).freedoms
    assert entry.held == "is judged at one roll at which all its pairs and ends hold, if `swingroom sweep` finds one"


def test_what_a_roll_may_be_is_told_where_it_is_none():
    with pytest.raises(InputError) as caught:
        machine_from_text(SOME.replace('"some"', '"any"'), CASES)
    (fault,) = caught.value.faults
    assert all(word in fault.hint for word in ("free", "some", "angle"))


# closed form: at the roll taken, end b1 leans by |roll + 10 - r| and so keeps its 12 degrees within 12 of roll + 10
def test_one_setting_and_the_usable_range_are_told_at_the_roll_of_the_sweep():
    machine = machine_from_text(CLOCKED, CASES)
    result = swept(CLOCKED)
    roll = result.rolls[0].degrees
    seen = next(one for one in look(machine, {"r": 1.0}).record.pairs if one.b == "pushrod")
    assert seen.distance_mm == pytest.approx(pair(result, "ground", "pushrod").least, abs=1e-3)
    found = find_usable_range(machine, RangeWish(cells=40), lambda *_: None)
    assert found.machine.parts["pushrod"].roll == roll
    ends = np.sort(found.crossings.inside[:, 0])
    assert [ends[0], ends[-1]] == pytest.approx([roll + 10 - 12, roll + 10 + 12], abs=0.1)
