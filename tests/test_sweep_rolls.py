"""A part that can roll is judged at every roll that its ends allow, or at the one that the file gives."""

from math import cos, hypot, radians, sin
from pathlib import Path

import pytest
from proof_attack import attack
from random_machines import only
from tries import first

from assembly.clearance.narrow_phase.pair_result import Effort, Verdict
from assembly.model.machine import Machine
from assembly.model.reader import machine_from_text
from assembly.studies.sweep.check import CheckResult, check

CASES = Path(__file__).resolve().parent / "cases"
LUG, BENT = ((CASES / f"{name}.toml").read_text() for name in ("rolling_rod_with_lug", "bent_rod_rolls"))
WALL = 8.0
"""mm: the walls' faces from the rod's line; the lug is 6 mm thick, and its top is 120 mm off the line."""


def with_roll(text: str, roll: str) -> Machine:
    return machine_from_text(text.replace("[parts.pushrod]", f"[parts.pushrod]\nroll = {roll}"), CASES)


def swept(machine: Machine, effort: Effort | None = None) -> CheckResult:
    return check(machine, effort or Effort(), lambda *_: None)


def pair(result: CheckResult, a: str, b: str):
    return next(found.result for found in result.found if {found.result.pair.a, found.result.pair.b} == {a, b})


# closed form: the walls leave ±2.35 degrees, and at r = ±20 the ends allow 8 to 12 degrees only
def test_a_lug_that_every_roll_of_the_ends_brings_to_a_wall_is_never_clear():
    lug = pair(swept(machine_from_text(LUG, CASES)), "ground", "pushrod")
    assert lug.verdict is Verdict.FAILS
    assert lug.rolls == ("roll of pushrod",)
    r, roll = lug.at
    assert abs(roll) <= 12 + 1e-6
    assert abs(roll - r) <= 12 + 1e-6
    assert abs(roll) > 2.35


# closed form: the edge of the lug's top comes to 120 sin(roll) + 3 cos(roll)
@pytest.mark.parametrize("roll", [0.5, -1.5, 2.0])
def test_a_lug_that_is_clamped_keeps_what_its_roll_leaves(roll):
    lug = pair(swept(with_roll(LUG, str(roll))), "ground", "pushrod")
    turned = radians(abs(roll))
    top = 120 * sin(turned) + 3 * cos(turned)
    assert lug.rolls == ()
    assert lug.least == pytest.approx(WALL - top, abs=1e-3)
    assert lug.proven <= lug.least


def test_a_lug_that_is_clamped_beyond_the_walls_strikes():
    assert pair(swept(with_roll(LUG, "10")), "ground", "pushrod").verdict is Verdict.FAILS


# closed form: ends that allow ±1.5 degrees at rest let the top of the lug come to 120 sin 1.5 + 3 cos 1.5, no farther
def test_a_lug_whose_ends_keep_it_off_the_walls_is_proven_so():
    text = LUG.replace("misalignment = 12", "misalignment = 1.5").replace("need = 20", "need = 1")
    lug = pair(swept(machine_from_text(text, CASES)), "ground", "pushrod")
    least = WALL - (120 * sin(radians(1.5)) + 3 * cos(radians(1.5)))
    assert lug.verdict is Verdict.CLEAR
    assert lug.least == pytest.approx(least, abs=1e-3)
    assert least - 0.15 < lug.proven <= least


# closed form: bent with 30 mm radius the belly's axis is 60 - 30 (1 / cos(atan(60 / 90)) - 1) mm off the line; half a
# turn brings its 10 mm bar below the wall, whose face is 70 mm off. At the ±14 degrees of its ends it stays away.
def test_a_belly_that_may_swing_right_round_comes_to_the_wall():
    asked, coarse = ("frame", "tie"), Effort(bracket_mm=0.5, bracket_share=0.05)
    kept = pair(swept(only(machine_from_text(BENT, CASES), asked), coarse), *asked)
    assert (kept.verdict, kept.least) == (Verdict.CLEAR, pytest.approx(15, abs=0.01))
    free = pair(swept(only(machine_from_text(BENT.replace("misalignment = 14\n", ""), CASES), asked)), *asked)
    assert free.least == pytest.approx(70 - 5 - (60 - 30 * (hypot(60, 90) / 90 - 1)), abs=0.05)
    assert abs(free.at[1]) > 170
    assert free.least - 0.5 < free.proven <= free.least


@pytest.mark.parametrize("text", first([BENT.replace("misalignment = 14\n", ""), LUG, BENT], 1))
def test_no_roll_that_is_allowed_breaks_what_was_proven(text):
    report = attack(machine_from_text(text, CASES), 30, 3, Effort(bracket_mm=1.0, bracket_share=0.05))
    assert [str(violation) for violation in report.violations] == []
    assert report.distances > 10
