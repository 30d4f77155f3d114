"""A smaller range of a drive that is advised for a failing pair: measured again here, closely, over that range."""

from functools import cache

import numpy as np
import pytest
from small_machines import quiet, read, slider
from tries import first

import assembly
from assembly.clearance.cures import range_cure
from assembly.clearance.cures.range_cure import smaller_range
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.report.text.advice import advice
from assembly.studies.sweep.check import check
from assembly.studies.sweep.joint_ranges import JointsFound
from assembly.studies.sweep.sweep_record import sweep_record
from assembly.studies.sweep.whole_sweep import smaller_ranges

CORNER = """
format = 1
name = "Cross slide and its block"
[parts.bed]
fixed = true
shapes = [{ name = "block", box = [0, 0, 0], size = [20, 20, 20] },
          { name = "horn", box = [20, -14, 0], size = [40, 2, 20] }]
[parts.saddle]
shapes = [{ name = "saddle", box = [0, 0, 200], size = [10, 10, 10] }]
[parts.head]
shapes = [{ name = "tool", box = [60, 30, 0], size = [10, 10, 10] }]
[joints.long]
slide = ["bed", "saddle"]
at = [0, 0, 200]
along = [-1, 0, 0]
[joints.cross]
slide = ["saddle", "head"]
at = [0, 0, 100]
along = [0, -1, 0]
[drives.x]
slides = { long = 1 }
range = [-60, 60]
[drives.y]
slides = { cross = 1 }
range = [-10, 40]
[clearance]
required = 6
"""
"""Own model: the tool goes deepest into the block, but a horn beside it reaches farther out where y is near its end."""
WORST_X = 15 - 6
"""Closed form: the tool's face is at 55 - x, the horn's end at 40 (for y from 38), and 6 mm are required."""


def gap(x, y):
    """mm between the tool and the nearer of both boxes, all square to each other (closed form)."""
    tool = np.array([60 - x, 30 - y])
    boxes = (((0, 0), (10, 10)), ((20, -14), (20, 1)))
    return min(np.linalg.norm(np.maximum(np.abs(tool - at) - np.array(half) - 5, 0)) for at, half in boxes)


@cache
def checked(text):
    return check(read(text), Effort(), quiet)


def told(text):
    swept = checked(text)
    record = sweep_record(swept, JointsFound(), smaller=dict(smaller_ranges(swept.mechanism.machine, swept.found)))
    return record.pairs[0], " ".join(advice(record, "swingroom sweep x.toml"))


def test_a_range_is_told_that_holds_where_the_first_contact_misleads():
    pair, text = told(CORNER)
    contact = next(one for one in pair.first_contacts if one.drive == "x")
    assert gap(contact.at["x"] - 1, 40.0) == 0.0  # ended short of that the tool would still go into the horn
    ((name, within),) = pair.clear_within.items()
    assert (name, within.from_, within.unit) == ("x", -60.0, "mm")
    assert WORST_X - 5 < within.to < WORST_X
    lattice = [gap(x, y) for x in np.linspace(within.from_, within.to, 121) for y in np.linspace(-10, 40, 101)]
    assert min(lattice) >= 6
    ended = f"or let stops end x at +{within.to:g} mm: swept so over all of y, the pair keeps its clearance"
    assert ended in text


@pytest.mark.parametrize(("low", "high"), [(-5.0, 12.7), (-5.0, 9.5)])
def test_one_drive_is_ended_just_short_of_where_it_fails(low, high):
    """Closed form: the gap is 10 mm less the setting and 1 mm is required, so the range may go to 9 mm."""
    pair, text = told(slider(low=low, high=high))
    assert 8.7 <= pair.clear_within["push"].to < 9
    assert "let stops end push at +8." in text
    assert "swept so, the pair keeps its clearance" in text


def test_what_could_not_be_proven_is_not_told(monkeypatch):
    """After one sweep the first guess has failed, though it stood short of what the lattice had seen."""
    monkeypatch.setattr(range_cure, "TRIES", 1)
    swept = checked(CORNER)
    first = smaller_range(swept.mechanism.machine, swept.found[0].result, 6)
    assert first is not None
    assert first.high > WORST_X
    assert not first.proven
    assert dict(smaller_ranges(swept.mechanism.machine, swept.found)) == {}
    assert "let stops end" not in told(CORNER)[1]


@pytest.mark.parametrize(
    "text",
    first([slider(low=0.0, high=40.0), slider(low=-1.0, high=1.0, required=10.5), slider(low=-5.0, high=8.0)], 1),
    ids=["less than a quarter is left", "too near at rest", "nothing fails"],
)
def test_none_is_told_where_none_helps(text):
    pair, words = told(text)
    assert pair.clear_within == {}
    assert "let stops end" not in words


def test_the_sweep_of_the_library_has_it_in_its_record():
    """Closed form: the gap is 10 mm less the setting and 1 mm is required; once so ended, the machine is clear."""
    swept = assembly.sweep(read(slider(high=12.7)), effort=Effort(), cached=False)
    high = swept.pair("base", "sledge").clear_within["push"].to
    assert 8.7 <= high < 9
    assert assembly.sweep(read(slider(high=high)), effort=Effort(), cached=False).verdict == "clear"


def test_no_more_sweeps_than_are_left():
    swept = checked(CORNER)
    assert smaller_range(swept.mechanism.machine, swept.found[0].result, 0) is None
