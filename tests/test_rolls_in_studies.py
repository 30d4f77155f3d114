"""What is reported at settings is reported of every roll that the ends allow there, as in the sweep."""

from math import asin, atan, cos, degrees, hypot, radians, sin
from pathlib import Path

import pytest
from stop_machines import designed_stops
from tries import first

from assembly.clearance.narrow_phase.pair_result import Effort, Verdict
from assembly.clearance.region.run_out import Cause
from assembly.model.machine import Machine
from assembly.model.reader import machine_from_text
from assembly.report.text.pose_text import pose_blocks
from assembly.report.text.range_text import range_blocks
from assembly.studies.look import PairSeen, look
from assembly.studies.map_study import MapWish, map_clearance
from assembly.studies.sweep.check import check
from assembly.studies.usable.usable_range import RangeWish, find_usable_range

CASES = Path(__file__).resolve().parent / "cases"
LUG, BENT = ((CASES / f"{name}.toml").read_text() for name in ("rolling_rod_with_lug", "bent_rod_rolls"))
KEPT_OFF = LUG.replace("misalignment = 12", "misalignment = 1.5").replace("need = 20", "need = 1")
NEAR, FAR = LUG.replace("need = 20", "need = 5").split("[joints.b2]")
ONE_RATED = "[joints.b2]".join(
    (
        NEAR.replace("misalignment = 12", "misalignment = 1.5"),
        FAR.replace("misalignment = 12\n", "").replace("bolt = [0, 0, 1]\n", ""),
    )
)
"""The end on the stick alone is rated: it allows the rolls from r - 1.5 to r + 1.5."""
UNRATED = BENT.replace("misalignment = 14\n", "")
WALL = 8.0
"""mm: the walls' faces from the rod's line; the lug is 6 mm thick, and its top is 120 mm off the line."""


def machine(text: str) -> Machine:
    return machine_from_text(text, CASES)


def seen(text: str, settings: dict[str, float], *parts: str) -> PairSeen:
    looked = look(machine(text), settings)
    return next(one for one in looked.seen if {one.entry.a, one.entry.b} == set(parts))


# closed form: at r the ends allow rolls from r - 12 to 12, of which the walls leave ±2.35
@pytest.mark.parametrize("r", [0.0, 10.0, 20.0])
def test_pose_strikes_where_a_roll_that_the_ends_allow_does(r):
    lug = seen(LUG, {"r": r}, "ground", "pushrod")
    assert lug.entry.verdict == "fails"
    assert list(lug.entry.rolls) == ["roll of pushrod"]
    assert r - 12 - 1e-6 <= lug.at[1] <= 12 + 1e-6
    assert abs(lug.at[1]) > 2.35


# closed form: the edge of the lug's top comes to 120 sin(roll) + 3 cos(roll); the ends allow -0.5 to 1.5 at r = 1
def test_pose_of_a_lug_whose_ends_keep_it_off_the_walls_has_what_the_farthest_roll_leaves():
    lug = seen(KEPT_OFF, {"r": 1.0}, "ground", "pushrod")
    assert lug.entry.verdict == "clear"
    assert lug.entry.distance_mm == pytest.approx(WALL - 120 * sin(radians(1.5)) - 3 * cos(radians(1.5)), abs=1e-4)
    assert lug.at[1] == pytest.approx(1.5, abs=1e-4)


# closed form, see test_sweep_rolls.py: half a turn brings the belly to the wall
def test_pose_turns_a_rod_whose_ends_are_not_rated_right_round():
    belly = seen(UNRATED, {}, "frame", "tie")
    assert belly.entry.distance_mm == pytest.approx(70 - 5 - (60 - 30 * (hypot(60, 90) / 90 - 1)), abs=0.05)
    assert abs(belly.at[1]) > 170
    assert seen(BENT, {}, "frame", "tie").entry.distance_mm == pytest.approx(15, abs=0.01)


# closed form: 8 - 120 sin 1.5 - 3 cos 1.5 = 1.86 mm are left at the worst of the rolls
@pytest.mark.parametrize(("required", "verdict"), [(1.8, "clear"), (1.9, "fails")])
def test_pose_is_clear_only_where_no_roll_between_those_looked_at_can_be_nearer(required, verdict):
    text = KEPT_OFF.replace("required = 1", f"required = {required}")
    lug = seen(text, {}, "ground", "pushrod")
    assert lug.entry.verdict == verdict
    assert lug.entry.unseen_mm <= 0.06


def test_pose_names_the_roll():
    record = look(machine(LUG), {"r": 20.0}).record
    assert record.verdict == "fails"
    assert record.pairs[0].rolls.keys() == {"roll of pushrod"}
    assert "at roll of pushrod +" in " ".join(str(block) for block in pose_blocks(record))


def told_nothing(*_):
    """Progress that nobody looks at."""


def wall_left(gap: float) -> float:
    """The roll in degrees that leaves ``gap`` mm to a wall: 120 sin(roll) + 3 cos(roll) = 8 - gap (closed form)."""
    return degrees(asin((WALL - gap) / hypot(120, 3)) - atan(3 / 120))


# closed form: at 1.5 degrees from r the lug has the 1 mm that it needs left at r = wall_left(1) - 1.5 = 0.41
def test_the_usable_range_ends_where_the_worst_roll_comes_too_near():
    found = find_usable_range(machine(ONE_RATED), RangeWish(), told_nothing)
    ends = sorted(found.crossings.inside[:, 0].tolist())
    assert ends == pytest.approx([1.5 - wall_left(1), wall_left(1) - 1.5], abs=0.07)
    record = found.record
    assert not record.fits
    assert record.governors[0].rules[0].rolls == pytest.approx({"roll of pushrod": wall_left(1)}, abs=0.08)
    assert record.breaches[0].at.keys() == {"r", "roll of pushrod"}
    assert "at roll of pushrod +" in " ".join(str(block) for block in range_blocks(record, "sweep"))


# closed form: the ends allow rolls from r - 1.5 to r + 1.5 and from -1.5 to 1.5, so none beyond r = ±3
def test_the_ends_of_a_rod_run_out_in_the_usable_range_where_no_roll_serves_both():
    found = find_usable_range(machine(KEPT_OFF), RangeWish(), told_nothing)
    assert found.record.fits
    assert sorted(found.crossings.inside[:, 0].tolist()) == pytest.approx([-3, 3], abs=0.07)


@pytest.mark.parametrize("text", first([KEPT_OFF, LUG, ONE_RATED], 2))
def test_the_usable_range_is_all_of_the_files_where_the_sweep_is_clear(text):
    swept = all(one.result.verdict is Verdict.CLEAR for one in check(machine(text), Effort(), told_nothing).found)
    assert find_usable_range(machine(text), RangeWish(), told_nothing).record.fits == swept


# closed form: the lug touches a wall at r = wall_left(0) - 1.5 = 0.89; at its shortest turn it never does
def test_what_runs_out_first_is_what_the_worst_roll_runs_into():
    for one in designed_stops(machine(ONE_RATED), told_nothing).directions:
        (end,) = one.free
        assert (end.cause, set(end.names)) == (Cause.PAIR, {"ground", "pushrod"})
        assert abs(end.at[0]) == pytest.approx(wall_left(0) - 1.5, abs=1e-3)
        ((name, roll),) = end.rolls
        assert (name, abs(roll)) == ("roll of pushrod", pytest.approx(wall_left(0), abs=2e-3))


# closed form: no map has a cell whose worst roll leaves less than it says
@pytest.mark.parametrize(("text", "r", "roll"), [(KEPT_OFF, 0.0, 1.5), (ONE_RATED, 0.25, 1.75)])
def test_the_map_measures_the_worst_roll(text, r, roll):
    found = map_clearance(machine(text), MapWish(pair=("ground", "pushrod"), cells=3 if r == 0 else 20), told_nothing)
    row = int(abs(found.field.settings[:, 0] - r).argmin())
    assert found.field.settings[row, 0] == pytest.approx(r)
    least = WALL - 120 * sin(radians(roll)) - 3 * cos(radians(roll))
    assert found.field.found[0, row] == pytest.approx(least, abs=1e-4)
    assert not found.field.proven[0, row] > least
