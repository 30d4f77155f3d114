"""Proposals for machines whose smallest change is known in closed form; each is swept whole before it is told."""

from math import sqrt
from pathlib import Path

import numpy as np
import pytest

import assembly
from assembly.api.proposals import proposing
from assembly.api.proposals.measured_machine import Measuring
from assembly.api.proposals.session_cache import SessionCache
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.errors import InputError, TimeLimitError
from assembly.model.reader import machine_from_text

HERE = Path(__file__).resolve().parent
BLOCK = """
format = 1
[dimensions]
post_y = POST
nose = NOSE
idle = { value = 7, may_be = [6, 8] }
shift = SHIFT
[parts.base]
fixed = true
shapes = [{ name = "post", box = [0, "post_y + 10", 0], size = [20, 20, 20] }]
[parts.wall]
fixed = true
shapes = [{ name = "wall", box = [0, WALL, 0], size = [20, 10, 20] }]
[parts.sledge]
shapes = [{ name = "nose", box = [0, "nose / 2 - 10 + shift", 0], size = [20, "nose", 20] }]
[joints.guide]
slide = ["base", "sledge"]
at = [0, 0, 0]
along = [0, 1, 0]
limit = [-9, 20]
[drives.push]
slides = { guide = 1 }
range = [-8, 18]
[clearance]
required = 5
"""
"""At the ends of the slide the nose is post_y - nose - shift - 8 from the post, and 6 + shift from a wall at -29."""
CRANK = """
format = 1
[dimensions]
arm = ARM
half = HALF
[parts.wall]
fixed = true
shapes = [{ box = [50, 0, 0], size = [10, 60, 10] }]
[parts.crank]
shapes = [{ box = ["arm / 2", 0, 0], size = ["arm", "2 * half", 10] }]
[joints.hub]
pin = ["wall", "crank"]
at = [0, 0, 0]
along = [0, 0, 1]
[drives.turn]
turns = { hub = 1 }
range = [-30, 30]
[clearance]
required = 3
"""
"""The corner goes round at sqrt(arm² + half²), and the wall is at 45."""


def block(post="30", nose="20", shift="0", wall=-29, more=""):
    text = BLOCK.replace("POST", post).replace("NOSE", nose).replace("SHIFT", shift).replace("WALL", str(wall))
    return machine_from_text(text + more, HERE)


def crank(arm="40", half="16"):
    return machine_from_text(CRANK.replace("ARM", arm).replace("HALF", half), HERE)


def proposed(machine, **asked):
    return assembly.propose(machine, cores=1, **asked)


def told(record):
    return [{one.name: one.after for one in proposal.values} for proposal in record.proposals]


@pytest.fixture(scope="module")
def two_ways():
    """What is proposed where the post may stand farther off or the nose be shorter: by 3, closed form."""
    machine = block("{ value = 30, may_be = [28, 40] }", "{ value = 20, may_be = [15, 22] }")
    return proposed(machine)


def test_each_smallest_change_is_found_and_proven(two_ways):
    assert two_ways.verdict == "fails"
    assert told(two_ways) == [
        {"post_y": pytest.approx(33.0, abs=0.02)},
        {"nose": pytest.approx(17.0, abs=0.02)},
    ]
    for one in two_ways.proposals:
        assert (one.verdict, one.worse) == ("clear", ())
        (mended,) = one.mended
        assert (mended.rule.names, mended.rule.required) == (("base", "sledge"), 5.0)
        assert mended.before == pytest.approx(2.0)
        assert 5.0 <= mended.after <= 5.02
    assert two_ways.measured == 4  # a trial and a whole sweep for each: slopes that hold all the way need no more
    (text,) = (one.text for one in two_ways.proposals[0].values)
    assert text == "post_y = { value = 33.01, may_be = [28, 40] }"


def test_a_dimension_on_which_nothing_depends_is_told_and_stays(two_ways):
    assert {one.name: one.moves for one in two_ways.allowed} == {"post_y": 1, "nose": 1, "idle": 0}


def test_what_a_change_makes_worse_stands_beside_it():
    """The post gives at most 1.5 of the 3; the rest is taken from the 2 that the nose keeps beyond the wall's rule."""
    rule = 'pairs = [{ between = ["wall", "sledge"], required = 4 }]\n'
    machine = block("{ value = 30, may_be = [28, 31.5] }", shift="{ value = 0, may_be = [-4, 4] }", more=rule)
    (one,) = proposed(machine, most=1).proposals
    moved = dict(told_values(one))
    assert moved["post_y"] - moved["shift"] == pytest.approx(33.0, abs=0.03)
    assert moved["shift"] <= -1.5
    (worse,) = one.worse
    assert (worse.what, worse.unit) == ("wall – sledge", "mm")
    assert (worse.before, worse.after) == pytest.approx((2.0, 2.0 + moved["shift"]), abs=1e-3)


def told_values(proposal):
    return [(one.name, one.after) for one in proposal.values]


def test_whole_steps_and_sizes_are_kept():
    """At 33.0 it comes to just what is required, which no proof closes on: the next step, and the next size, do."""
    stepped = proposed(block("{ value = 30, may_be = [28, 40], step = 0.5 }"))
    sized = proposed(block("{ value = 30, sizes = [28, 30, 32.5, 34, 36] }"))
    assert (told(stepped), told(sized)) == ([{"post_y": 33.5}], [{"post_y": 34.0}])
    assert sized.proposals[0].mended[0].after == pytest.approx(6.0, abs=1e-3)


def test_more_than_the_file_requires_can_be_asked_of_one_pair():
    machine = block("{ value = 30, may_be = [28, 40] }")
    record = proposed(machine, pair=("sledge", "base"), clearance=7.25)
    assert (record.asked, record.clearance_mm) == (("sledge", "base"), 7.25)
    assert told(record) == [{"post_y": pytest.approx(35.25, abs=0.02)}]
    assert record.proposals[0].mended[0].after >= 7.25


def test_where_nothing_will_do_it_says_what_contradicts_and_how_near_it_came():
    """Closed form: 1 of the post and 0.5 of the nose leave 1.5 of 3, of which the wall's margin gives 1."""
    machine = block(
        "{ value = 30, may_be = [28, 31] }", "{ value = 20, may_be = [19.5, 22] }", "{ value = 0, may_be = [-5, 5] }"
    )
    record = proposed(machine)
    assert record.proposals == ()
    found = record.contradiction
    assert {one.names for one in found.rules} == {("base", "sledge"), ("wall", "sledge")}
    assert {(one.name, one.value, one.side) for one in found.limits} == {
        ("post_y", 31.0, "most"),
        ("nose", 19.5, "least"),
    }
    assert {one.name: one.after for one in found.values} == {
        "post_y": 31.0,
        "nose": 19.5,
        "shift": pytest.approx(-1.0, abs=0.02),
    }
    (missed,) = found.missed
    assert (missed.names, missed.margin) == (("base", "sledge"), pytest.approx(-0.5, abs=0.02))


def test_a_rule_that_is_far_from_broken_today_is_not_forgotten():
    """The wall is 15 from its rule: no trial looks at it, but the sweep of all does, and then its rule counts.

    Closed form: 16 are needed, of which the wall gives 15 and the post the rest.
    """
    rule = 'pairs = [{ between = ["base", "sledge"], required = 18 }]\n'
    machine = block("{ value = 30, may_be = [30, 32] }", shift="{ value = 0, may_be = [-20, 0] }", wall=-43, more=rule)
    (found,) = proposed(machine, most=1).proposals
    assert found.verdict == "clear"
    after = dict(told_values(found))
    assert after["post_y"] - after["shift"] == pytest.approx(46.0, abs=0.15)
    assert after["shift"] >= -15.0
    assert after["post_y"] <= 32.0


def test_where_slopes_change_the_smallest_change_is_still_found():
    """Closed form: arm² + half² = 42²."""
    machine = crank("{ value = 40, may_be = [30, 45] }", "{ value = 16, may_be = [5, 20] }")
    arm, half = proposed(machine).proposals
    assert dict(told_values(arm)) == {"arm": pytest.approx(sqrt(42**2 - 16**2), abs=0.1)}
    assert dict(told_values(half)) == {"half": pytest.approx(sqrt(42**2 - 40**2), abs=0.1)}
    for one in (arm, half):
        assert 3.0 <= one.mended[0].after <= 3.1


def test_weights_of_the_builder_decide_which():
    """1.17 mm of the arm at a weight of 5 is more than 3.19 mm of its height."""
    machine = crank("{ value = 40, may_be = [30, 45], weight = 5 }", "{ value = 16, may_be = [5, 20] }")
    (one,) = proposed(machine, most=1).proposals
    assert dict(told_values(one)) == {"half": pytest.approx(sqrt(42**2 - 40**2), abs=0.1)}


@pytest.mark.long
def test_slopes_of_the_rules_agree_with_machines_measured_anew():
    """Central differences of what is measured, 0.2 to either side of the machine."""
    machine = crank("{ value = 40, may_be = [30, 45] }", "{ value = 16, may_be = [5, 20] }")
    allowed = tuple(machine.may_change.values())
    measuring = Measuring(machine, allowed, Effort(bracket_mm=1e-2), SessionCache(None), lambda *_: None)
    today = measuring.today()
    (rule,) = today.broken
    slopes = np.mean([row.slopes for row in today.rows if row.rule == rule], axis=0)
    for number, step in enumerate(0.2 * np.eye(2)):
        up, down = (measuring.measured(today.values + way * step, everything=True) for way in (1, -1))
        anew = (up.rules[rule].margin - down.rules[rule].margin) / 0.4
        assert slopes[number] == pytest.approx(anew, abs=5e-3)
        assert slopes[number] == pytest.approx(-today.values[number] / np.hypot(40, 16), abs=5e-3)


def test_nothing_is_changed_where_every_rule_holds():
    record = proposed(block("{ value = 40, may_be = [28, 50] }"))
    assert (record.verdict, record.proposals, record.contradiction, record.measured) == ("clear", (), None, 0)


def test_a_machine_that_cannot_be_made_is_no_proposal():
    """Below 0 the nose is no box: the step there is halved, and another dimension is not needed."""
    machine = block(
        nose="{ value = 20, may_be = [-10, 22] }", more='pairs = [{ between = ["base", "sledge"], required = 30 }]\n'
    )
    record = proposed(machine)
    assert record.proposals == ()
    assert record.contradiction is not None


def test_what_was_found_before_the_time_was_over_is_told(monkeypatch):
    search = proposing.ChangeSearch.found

    def found(self, excluded):
        if excluded:
            raise TimeLimitError.after(1.0)
        return search(self, excluded)

    monkeypatch.setattr(proposing.ChangeSearch, "found", found)
    record = proposed(block("{ value = 30, may_be = [28, 40] }", "{ value = 20, may_be = [15, 22] }"))
    assert len(record.proposals) == 1
    assert record.stopped == "the time limit of 1 s was reached"


def test_a_value_outside_what_it_may_be_is_refused():
    machine = block("{ value = 30, may_be = [28, 40] }").with_dimensions(post_y=41)
    with pytest.raises(InputError, match="`post_y` is 41 and may be 28 to 40"):
        proposed(machine)
