"""Stops of a machine with a part that can roll are designed and proven for every roll that its ends allow."""

from math import asin, atan, cos, degrees, hypot, radians, sin
from pathlib import Path

import pytest

from assembly.clearance.narrow_phase.pair_result import Effort, PairResult, Verdict
from assembly.clearance.proof import pair_search as search
from assembly.clearance.region.ways import HAIR
from assembly.model.reader import machine_from_text
from assembly.studies.stops.stop_design import StopsSettled, settle_stops
from assembly.studies.sweep.check import check

CASES = Path(__file__).resolve().parent / "cases"
TEXT = (CASES / "rolling_rod_with_stops.toml").read_text()
LOW = TEXT.replace('side = "high"', 'side = "high"\nheight = 22').replace('side = "low"', 'side = "low"\nheight = 22')
WALL, TOP, THICK, ROLLS = 18.0, 50.0, 3.0, 6.0
"""mm: the walls' faces and the lug's top from the rod's line, half its thickness; degrees its end allows round r."""


def quiet(*_):
    pass


def settled(text: str) -> StopsSettled:
    return settle_stops(machine_from_text(text, CASES), Effort(), quiet)


def r_that_leaves(gap: float) -> float:
    """Closed form: at r + 6 degrees the edge of the lug's top is 50 sin + 3 cos off the line, ``gap`` short of 18."""
    return degrees(asin((WALL - gap) / hypot(TOP, THICK)) - atan(THICK / TOP)) - ROLLS


def height_that_acts(r: float) -> float:
    """Closed form: the arm's upper face, 3 mm above its line, comes to the pad's edge at y = 50; 37 mm is its foot."""
    return 37 - (3 + 50 * sin(radians(r))) / cos(radians(r))


def lug_and_wall(text: str) -> PairResult:
    machine = machine_from_text(text.split("[stops.up]")[0] + "[clearance]\nrequired = 1\n", CASES)
    found = check(machine, Effort(), quiet).found
    return next(one.result for one in found if {one.result.pair.a, one.result.pair.b} == {"ground", "pushrod"})


def test_stops_are_proven_to_act_before_the_worst_roll_of_a_rod_strikes():
    found = settled(TEXT)
    record = found.record
    assert record.verdict == "clear"
    for direction in record.directions:
        assert direction.first.names == ("ground", "pushrod")
        assert abs(direction.first.at["r"]) == pytest.approx(r_that_leaves(0), abs=1e-3)
        assert abs(direction.first.at["roll of pushrod"]) == pytest.approx(r_that_leaves(0) + ROLLS, abs=2e-3)
    for stop in record.stops:
        acts = abs(stop.acts.setting)
        assert r_that_leaves(1 + HAIR) - 0.1 < acts < r_that_leaves(1 + HAIR)
        assert stop.to_make_mm == pytest.approx(height_that_acts(acts), abs=0.011)
    swept = next(one for one in found.proof.swept.pairs if one.pair.b == "pushrod" and one.pair.a == "ground")
    assert (swept.verdict, swept.rolls) == (Verdict.CLEAR, ("roll of pushrod",))
    assert 1 <= swept.proven <= swept.least


def test_stops_that_let_the_rod_roll_into_the_wall_are_none():
    found = settled(LOW)
    record = found.record
    assert (record.verdict, found.proof) == ("fails", None)
    for stop in record.stops:
        assert height_that_acts(abs(stop.acts.setting)) == pytest.approx(22, abs=1e-3)
        assert "too late" in stop.faults[0]
        assert abs(stop.acts.at_most) < r_that_leaves(1)


# closed form: clamped at 0 the lug keeps 15 mm, and the end on the stick leans by r, of which it keeps 6 degrees
def test_stops_of_a_rod_that_is_clamped_are_ended_by_its_end_alone():
    found = settled(TEXT.replace("[parts.pushrod]", "[parts.pushrod]\nroll = 0"))
    assert found.record.verdict == "clear"
    for direction in found.designed.directions:
        assert direction.free[0].names == ("b1",)
        assert abs(direction.free[0].at[0]) == pytest.approx(6, abs=1e-3)


# closed form: r_that_leaves(1) = 10.41, so that 1 mm and a tenth are left at 10.3
def test_closing_in_tells_apart_what_an_end_allows_where_the_drive_moves_the_pair_by_its_end_alone():
    lug = lug_and_wall(TEXT.replace("need = 15", "need = 10.3"))
    least = WALL - TOP * sin(radians(16.3)) - THICK * cos(radians(16.3))
    assert lug.closed_in
    assert lug.least == pytest.approx(least, abs=0.03)
    assert least - 0.1 < lug.proven <= least


def test_closing_in_ends_where_cutting_gains_nothing(monkeypatch):
    """The drive that tells what an end allows is never cut: what is left open is told so, and is not closed in on."""
    monkeypatch.setattr(search, "shifts_of_rolls", lambda *_: ())
    monkeypatch.setattr("assembly.clearance.proof.cells.THINNEST", 3.0**-8)
    lug = lug_and_wall(TEXT.replace("need = 15", "need = 10.3"))
    assert not lug.closed_in
    assert lug.proven <= WALL - TOP * sin(radians(16.3)) - THICK * cos(radians(16.3))
