"""Where no single roll is found for a part of which some roll is asked, every command says what the sweep says."""

from pathlib import Path

import pytest
from click.testing import CliRunner
from tries import first

from assembly.api.swept_map import swept_map
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.proof import some_roll
from assembly.cli import commands
from assembly.commands.common import ExitStatus
from assembly.model.reader import machine_from_text
from assembly.report.text.pose_text import pose_blocks
from assembly.studies.look import look
from assembly.studies.map_study import MapWish
from assembly.studies.stops.stop_design import settle_stops
from assembly.studies.sweep.check import check
from assembly.studies.usable.usable_range import RangeWish, find_usable_range

CASES = Path(__file__).resolve().parent / "cases"
LUG, STOPS = ((CASES / f"rolling_rod_with_{name}.toml").read_text() for name in ("lug", "stops"))
SOME = LUG.replace("[parts.pushrod]", '[parts.pushrod]\nroll = "some"')
OPEN = SOME.replace("need = 20", "need = 13")
"""Closed form: at r = ±13 the ends allow 1 to 12 and -12 to -1 degrees, the walls ±2.35: no one roll serves both."""
WHY = "no single roll of pushrod was found"


def quiet(*_):
    pass


def machine(text):
    return machine_from_text(text, CASES)


def answers(text):
    """What sweep and range say of the lug, and why."""
    swept = next(one.result for one in check(machine(text), Effort(), quiet).found if one.result.pair.b == "pushrod")
    (measured,) = find_usable_range(machine(text), RangeWish(8), quiet).record.unsettled
    return (swept.verdict.value, swept.why), (measured.verdict, measured.why)


# closed form: see OPEN, and at r = ±20 the ends allow 8 to 12 degrees only, all of which strike
@pytest.mark.parametrize(("text", "verdict"), first([(OPEN, "undecided"), (SOME, "fails")], 1))
def test_range_answers_as_the_sweep_and_in_its_words(text, verdict):
    swept, measured = answers(text)
    assert swept == measured
    assert measured[0] == verdict
    assert WHY in measured[1] or "blocks every roll of pushrod" in measured[1]


def test_range_ends_as_the_sweep_does(tmp_path):
    path = tmp_path / "lug.toml"
    path.write_text(OPEN)
    command = ["range", str(path), "--grid", "8", "--cores", "1", "--out", str(tmp_path)]
    done = CliRunner().invoke(commands, command, standalone_mode=False)
    assert done.return_value is ExitStatus.UNDECIDED
    assert "UNDECIDED: " in done.output


def test_map_answers_as_the_sweep_and_tries_rolls_once(monkeypatch):
    tried = []
    choose = some_roll._Trials.choose
    monkeypatch.setattr(some_roll._Trials, "choose", lambda *given: (tried.append(given[2]), choose(*given))[1])
    record = swept_map(machine(OPEN), MapWish(cells=9), quiet, 1, cached=False).record
    assert tried == [("pushrod",)]
    assert len(record.failing) == 9, "the worst roll strikes at every centre"
    assert (record.fails, record.undecided) == (False, True)
    assert [(one.verdict, WHY in one.why) for one in record.unsettled] == [("undecided", True)]
    assert record.swept.verdict == "undecided"


# closed form: at r = 5 the ends allow -7 to 12 degrees and the walls ±2.35; at r = 20 no roll of 8 to 12 serves
@pytest.mark.parametrize(("text", "r", "verdict"), [(OPEN, 5.0, "undecided"), (SOME, 20.0, "fails")])
def test_one_setting_fails_only_where_every_roll_is_blocked(text, r, verdict):
    record = look(machine(text), {"r": r}).record
    lug = next(pair for pair in record.pairs if pair.b == "pushrod")
    assert lug.verdict == record.verdict == verdict
    assert (WHY in lug.why) is (verdict == "undecided")
    if lug.why:
        assert any(WHY in str(block) for block in pose_blocks(record))


# closed form: the end on the stick allows r - 6 to r + 6 degrees, so that none serves r = -15 and r = 15 alike
@pytest.mark.parametrize(("height", "verdict"), first([("", "clear"), ("height = 22", "undecided")], 1))
def test_stops_that_hold_at_every_roll_hold_and_others_are_undecided(height, verdict):
    text = STOPS.replace("[parts.pushrod]", '[parts.pushrod]\nroll = "some"')
    for side in ("high", "low"):
        text = text.replace(f'side = "{side}"', f'side = "{side}"\n{height}')
    found = settle_stops(machine(text), Effort(), quiet)
    record = found.record
    assert record.verdict == verdict
    assert (WHY in record.reason) is (verdict == "undecided")
