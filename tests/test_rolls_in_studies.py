"""What is told at settings is told of every roll that the ends allow there, as in the sweep."""

from math import cos, hypot, radians, sin
from pathlib import Path

import pytest

from assembly.clearance.outcome import Verdict
from assembly.model.machine import Machine
from assembly.model.reader import machine_from_text
from assembly.record import pose_record
from assembly.report.pose_text import pose_blocks
from assembly.studies.look import PairSeen, look

CASES = Path(__file__).resolve().parent / "cases"
LUG, BENT = ((CASES / f"{name}.toml").read_text() for name in ("rolling_rod_with_lug", "bent_rod_rolls"))
KEPT_OFF = LUG.replace("misalignment = 12", "misalignment = 1.5").replace("need = 20", "need = 1")
UNRATED = BENT.replace("misalignment = 14\n", "")
WALL = 8.0
"""mm: the walls' faces from the rod's line; the lug is 6 mm thick, and its top is 120 mm off the line."""


def machine(text: str) -> Machine:
    return machine_from_text(text, CASES)


def seen(text: str, settings: dict[str, float], *parts: str) -> PairSeen:
    looked = look(machine(text), settings)
    return next(one for one in looked.seen if {one.pair.a, one.pair.b} == set(parts))


# closed form: at r the ends allow rolls from r - 12 to 12, of which the walls leave ±2.35
@pytest.mark.parametrize("r", [0.0, 10.0, 20.0])
def test_pose_strikes_where_a_roll_that_the_ends_allow_does(r):
    lug = seen(LUG, {"r": r}, "ground", "pushrod")
    assert lug.verdict is Verdict.FAILS
    assert lug.rolls == ("roll of pushrod",)
    assert r - 12 - 1e-6 <= lug.at[1] <= 12 + 1e-6
    assert abs(lug.at[1]) > 2.35


# closed form: the edge of the lug's top comes to 120 sin(roll) + 3 cos(roll); the ends allow -0.5 to 1.5 at r = 1
def test_pose_of_a_lug_whose_ends_keep_it_off_the_walls_has_what_the_farthest_roll_leaves():
    lug = seen(KEPT_OFF, {"r": 1.0}, "ground", "pushrod")
    assert lug.verdict is Verdict.CLEAR
    assert lug.witness.distance == pytest.approx(WALL - 120 * sin(radians(1.5)) - 3 * cos(radians(1.5)), abs=1e-4)
    assert lug.at[1] == pytest.approx(1.5, abs=1e-4)


# closed form, see test_sweep_rolls.py: half a turn brings the belly to the wall
def test_pose_turns_a_rod_whose_ends_are_not_rated_right_round():
    belly = seen(UNRATED, {}, "frame", "tie")
    assert belly.witness.distance == pytest.approx(70 - 5 - (60 - 30 * (hypot(60, 90) / 90 - 1)), abs=0.05)
    assert abs(belly.at[1]) > 170
    assert seen(BENT, {}, "frame", "tie").witness.distance == pytest.approx(15, abs=0.01)


# closed form: 8 - 120 sin 1.5 - 3 cos 1.5 = 1.86 mm are left at the worst of the rolls
@pytest.mark.parametrize(("required", "verdict"), [(1.8, Verdict.CLEAR), (1.9, Verdict.FAILS)])
def test_pose_is_clear_only_where_no_roll_between_those_looked_at_can_be_nearer(required, verdict):
    text = KEPT_OFF.replace("required = 1", f"required = {required}")
    lug = seen(text, {}, "ground", "pushrod")
    assert lug.verdict is verdict
    assert lug.unseen <= 0.06


def test_pose_names_the_roll():
    record = pose_record(look(machine(LUG), {"r": 20.0}))
    assert record.verdict == "fails"
    assert record.pairs[0].rolls.keys() == {"roll of pushrod"}
    assert "at roll of pushrod +" in " ".join(str(block) for block in pose_blocks(record))
