"""A sweep that recalls what earlier ones found gives what a sweep from scratch gives, to the last bit.

One machine is swept and remembered. Then each kind of input is edited, one at a time, and the edited machine is swept
with what is remembered and without. The oracle is the sweep without: it computes everything.
"""

from dataclasses import fields, is_dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from clocks import Clock
from small_machines import quiet
from tries import chosen, first

import assembly
from assembly.cache.sqlite_cache import packed, unpacked
from assembly.clearance.narrow_phase.checked_pairs import gather_pairs
from assembly.clearance.narrow_phase.pair_result import Effort, Verdict
from assembly.clearance.proof.cache_keys import digest_of, pair_keys
from assembly.clearance.proof.cached import Depth
from assembly.clearance.proof.pair_state import PairState
from assembly.kinematics.assembling import assemble
from assembly.model.reader import machine_from_text
from assembly.studies.sweep.check import check
from assembly.time_limit import time_limit

WHOLE = (Path(assembly.__file__).parent / "starter" / "arm_and_crank.toml").read_text(encoding="utf-8")


def ranged(crank, head):
    """The machine to start from, coarse and in small ranges: all is recalled in the same way, of less."""
    text = WHOLE.replace("range = [-20, 25]", f"range = {crank}").replace("range = [-40, 40]", f"range = {head}")
    text = text.replace("format = 1", "format = 1\nfacet_error = 0.5")
    assert text.count(f"range = {crank}") == text.count(f"range = {head}") == 1
    return text


STARTER = ranged([-2, 3], [-4, 4])
STRIKING = ranged([-6, 7], [-4, 4]).replace("size = [120, 200, 10]", "size = [120, 200, 82]")
"""The crank goes into the base: first contacts, regions and overlaps are remembered too."""
NEAR = STARTER.replace("required = 2\n", "required = 30\n")
"""Four pairs come too near and do not touch."""

SHAPE = 'box = [0, "arm", "height - 40"], size = [90, 16, 20]'
EDITS = {
    "nothing": ("", ""),
    "comment": ("# Run it:", "# Run it so:"),
    "size of one shape": (SHAPE, SHAPE.replace("90", "91")),
    "place of one shape": (SHAPE, SHAPE.replace('"arm"', '"arm + 1"')),
    "one more shape": (
        f'{{ name = "foot", {SHAPE} }},',
        f'{{ name = "foot", {SHAPE} }}, {{ {SHAPE.replace("40", "58")} }},',
    ),
    "facets": ("facet_error = 0.5", "facet_error = 0.4"),
    "name of one shape": ('name = "foot"', 'name = "shoe"'),
    "name of a part": ('"head"', '"hand"'),
    "seat round a joint": ("seat_radius = 12  ", "seat_radius = 9  "),
    "seat that a shape forms": ("size = [12, 40, 170] },", 'size = [12, 40, 170], bearing_of = "arm_pivot" },'),
    "range of a drive": ("range = [-4, 4]", "range = [-4, 5]"),
    "ratio of a drive": ("{ head_pivot = 1 }", "{ head_pivot = 0.9 }"),
    "point of a joint": ("crank_pin = [0, 0, 60]", "crank_pin = [0, 0.5, 60]"),
    "who holds a rod end": ('ball = ["rod", "arm"]', 'ball = ["arm", "rod"]'),
    "line of a bolt": (
        "bolt = [1, 0, 0]\nmisalignment = 15                  #",
        "bolt = [1, 0, 0.1]\nmisalignment = 15                  #",
    ),
    "clearance of all": ("required = 2\n", "required = 2.5\n"),
    "clearance of a part": ("{ head = 4 }", "{ head = 4, rod = 5 }"),
    "clearance of a pair": ("# pairs = [", 'pairs = [{ between = ["rod", "frame"], required = 6 }]\n# pairs = ['),
    "a pair left out": ("# pairs = [", 'pairs = [{ between = ["rod", "frame"], ignore = "so" }]\n# pairs = ['),
    "a part more": (
        "[parts.head]",
        "[parts.lamp]\nshapes = [{ box = [0, -90, 200], size = [20, 20, 20] }]\n[parts.head]",
    ),
    "a length of a part's own": ("# set_length", "set_length"),
    "rating of a rod end": ("misalignment = 15                  #", "misalignment = 14                  #"),
}
OWN = {
    "nothing",
    "size of one shape",
    "one more shape",
    "facets",
    "name of a part",
    "seat that a shape forms",
    "range of a drive",
    "point of a joint",
    "clearance of a pair",
    "a pair left out",
    "rating of a rod end",
}
"""Edits that the suite makes: one of each kind. ``.ci/run`` makes all of them."""
LAMP = '[joints.bracket]\nwelded = ["frame", "lamp"]\nat = [0, -90, 200]\n[joints.arm_pivot]'
CLOSED_IN = {"nothing", "size of one shape"}
"""Edits after which the nearest pairs are closed in on too; after the others every pair is decided."""
SEARCHES_NOTHING = {"nothing", "comment", "a pair left out", "name of a part"}
SEARCHES_SOME = {
    "rating of a rod end",
    "size of one shape",
    "place of one shape",
    "one more shape",
    "name of one shape",
    "seat that a shape forms",
    "seat round a joint",
    "clearance of a part",
    "clearance of a pair",
    "a part more",
}


class Remembered:
    """A memory that goes through bytes, as the one on disk does."""

    def __init__(self, kept=()):
        self.kept = dict(kept)

    def look_up(self, keys):
        return {key: unpacked(self.kept[key]) for key in keys if key in self.kept}

    def keep(self, known):
        self.kept.update((key, packed(one)) for key, one in known.items())


def machine(text):
    return machine_from_text(text, Path())


def swept(text, memory=None, progress=quiet, **effort):
    return check(machine(text), Effort(**effort), progress, memory=memory)


def plain(value):
    """Every number of a result with its bits, for comparing."""
    if isinstance(value, np.ndarray):
        return value.tobytes(), value.shape
    if is_dataclass(value):
        return [plain(getattr(value, field.name)) for field in fields(value)]
    if isinstance(value, list | tuple):
        return [plain(entry) for entry in value]
    return value.hex() if isinstance(value, float) else repr(value)


def findings(checked):
    return {(one.result.pair.a, one.result.pair.b): plain(one) for one in checked.found}


@cache
def alone(text):
    """What a sweep in this process finds that recalls nothing."""
    return findings(swept(text))


def searched(checked):
    return sum(state.search is not None for state in checked.swept.states)


@pytest.fixture(scope="module")
def base():
    """What sweeping the machine left in the memory, by whether its pairs were only decided."""
    memories = {only: Remembered() for only in (False, True)}
    for only, memory in memories.items():
        swept(STARTER, memory, decide_only=only)
    return {only: memory.kept for only, memory in memories.items()}


def edited(text, what):
    old, new = EDITS[what]
    assert old in text, what
    made = text.replace(old, new, -1 if what == "name of a part" else 1)
    if what == "name of a part":
        made = made.replace("[parts.head]", "[parts.hand]").replace("{ head = 4 }", "{ hand = 4 }")
    return made.replace("[joints.arm_pivot]", LAMP, 1) if what == "a part more" else made


@pytest.mark.parametrize("what", chosen(EDITS, OWN))
def test_after_any_edit_what_is_recalled_is_what_would_be_computed(base, what):
    only = what not in CLOSED_IN
    text, memory = edited(STARTER, what), Remembered(base[only])
    fresh, recalling = swept(text, decide_only=only), swept(text, memory, decide_only=only)
    assert findings(recalling) == findings(fresh)
    assert recalling.swept.work.recalled == len(recalling.found) - searched(recalling)
    if what in SEARCHES_NOTHING:
        assert searched(recalling) == 0
    elif what in SEARCHES_SOME:
        assert 0 < searched(recalling) < len(recalling.found)
    again = swept(text, memory, decide_only=only)
    assert searched(again) == 0
    assert findings(again) == findings(fresh)


def test_what_fails_is_recalled_with_all_that_shows_it():
    memory = Remembered()
    first, again = swept(STRIKING, memory), swept(STRIKING, memory)
    failing = [one.result for one in again.found if one.result.verdict is Verdict.FAILS]
    assert searched(again) == 0
    assert any(result.overlap is not None and len(result.overlap.solid.faces) for result in failing)
    assert any(result.region is not None and result.first_contacts for result in failing)
    assert findings(first) == findings(again)
    moved = edited(STRIKING, "place of one shape")
    swept(STRIKING, memory, decide_only=True)
    assert findings(swept(moved, memory, decide_only=True)) == findings(swept(moved, decide_only=True))


def test_editing_one_shape_searches_the_pairs_of_its_part_alone(base):
    checked = swept(edited(STARTER, "size of one shape"), Remembered(base[True]), decide_only=True)
    names = [{state.pair.a, state.pair.b} for state in checked.swept.states if state.search is not None]
    assert names
    assert all("head" in both for both in names)
    assert len(names) == sum("head" in {one.result.pair.a, one.result.pair.b} for one in checked.found)


def test_a_part_that_is_welded_to_another_body_is_searched():
    """It stands where it stood, and every equation is as it was; only what carries it is another body."""
    lamp = edited(STARTER, "a part more")
    moved, memory = lamp.replace('["frame", "lamp"]', '["arm", "lamp"]'), Remembered()
    swept(lamp, memory, decide_only=True)
    recalling = swept(moved, memory, decide_only=True)
    names = [{state.pair.a, state.pair.b} for state in recalling.swept.states if state.search is not None]
    assert names
    assert all("lamp" in both for both in names)
    assert findings(recalling) == findings(swept(moved, decide_only=True))


def test_how_near_is_closed_in_counts_and_cores_do_not():
    memory = Remembered()
    swept(STARTER, memory, bracket_mm=0.2)
    assert searched(swept(STARTER, memory, bracket_mm=0.2, cores=2)) == 0
    finer = swept(STARTER, memory, bracket_mm=0.05)
    assert searched(finer) == len(finer.found)
    assert findings(finer) == findings(swept(STARTER, bracket_mm=0.05))


@pytest.mark.parametrize(("first", "then"), first([(12.0, 60.0), (60.0, 12.0)], 1))
def test_pairs_are_searched_again_where_they_are_looked_into_farther_than_before(monkeypatch, first, then):
    """How far is decided by the other pairs, too; here by the interest, with none counted among the nearest."""
    monkeypatch.setattr("assembly.clearance.proof.sweep.NEAREST", 0)
    memory = Remembered()
    swept(STARTER, memory, interest_mm=first)
    second = swept(STARTER, memory, interest_mm=then)
    assert findings(second) == findings(swept(STARTER, interest_mm=then))
    assert searched(swept(STARTER, memory, interest_mm=first)) == 0
    assert searched(swept(STARTER, memory, interest_mm=then)) == 0


def test_failing_pairs_that_come_among_those_shown_are_shown(monkeypatch):
    memory = Remembered()
    monkeypatch.setattr("assembly.clearance.proof.sweep.STRIKES_SHOWN", 1)
    swept(NEAR, memory)
    monkeypatch.setattr("assembly.clearance.proof.sweep.STRIKES_SHOWN", 12)
    more = swept(NEAR, memory)
    assert findings(more) == alone(NEAR)
    monkeypatch.setattr("assembly.clearance.proof.sweep.STRIKES_SHOWN", 1)
    fewer = swept(NEAR, memory)
    assert searched(fewer) == 0
    assert sum(one.result.region is not None for one in fewer.found) == 1


def test_a_sweep_that_ends_early_keeps_nothing_and_recalls_the_deepest():
    memory = Remembered()
    clock = Clock()
    with time_limit(1.0, clock):
        stopped = swept(STARTER, memory, clock.at("sweep", 1.2))
    assert stopped.swept.stopped
    assert not memory.kept
    whole = swept(STARTER, memory)
    clock = Clock()
    with time_limit(1.0, clock):
        again = swept(edited(STARTER, "size of one shape"), memory, clock.at("sweep", 1.2))
    known = findings(whole)
    for state, one in zip(again.swept.states, again.swept.pairs, strict=True):
        if state.search is None:
            assert plain(state.found) == known[one.pair.a, one.pair.b]
            assert one.verdict is Verdict.CLEAR


def test_every_key_is_another_pair_of_solids_or_rule():
    made = machine(STARTER)
    mechanism = assemble(made)
    keys = pair_keys(mechanism, gather_pairs(made, mechanism.bodies), Effort())
    assert len(set(keys)) == len(keys)
    assert keys == pair_keys(mechanism, gather_pairs(made, mechanism.bodies), Effort(cores=2, parts=("head",)))
    assert not set(keys) & set(pair_keys(mechanism, gather_pairs(made, mechanism.bodies), Effort(interest_mm=3.0)))


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (1, 1.0),
        (1, True),
        ("1", 1),
        ((1, 2), ((1,), 2)),
        (("ab", "c"), ("a", "bc")),
        (0.1 + 0.2, 0.3),
        (0.0, -0.0),
        (np.zeros((2, 3)), np.zeros((3, 2))),
        (np.zeros(2), np.zeros(2, dtype=np.int64)),
        (None, "None"),
        ({"a": 1, "b": 2}, {"a": 2, "b": 1}),
    ],
)
def test_values_that_differ_have_other_digests(one, other):
    assert digest_of(one) != digest_of(other)
    assert digest_of([one, other]) != digest_of([other, one])
    assert digest_of(one) == digest_of(one)


def test_a_value_of_which_no_digest_is_known_is_refused():
    with pytest.raises(TypeError, match="no digest is known for a set"):
        digest_of({1, 2})


def test_what_is_learnt_adds_to_what_was_known():
    memory = Remembered()
    swept(STARTER, memory)
    known = unpacked(next(iter(memory.kept.values())))
    pair = gather_pairs(machine(STARTER), assemble(machine(STARTER)).bodies).checked[0]
    (depth, found), *_ = known.found.items()
    state = PairState(pair, known, depth=Depth.SHOWN)
    more = state.with_found(replace(found))
    assert set(more.found) == {depth, Depth.SHOWN}
    assert state.cached_at(depth).result.pair is pair
    assert state.cached_at(Depth.APART) is None or depth is Depth.APART


def test_what_was_only_decided_and_shown_does_not_stand_for_what_is_closed_in_on():
    """A pair that comes too near, but does not touch, is closed in on unless pairs are only to be decided."""
    memory = Remembered()
    swept(NEAR, memory, decide_only=True)
    whole = swept(NEAR, memory)
    assert any(one.result.verdict is Verdict.FAILS and one.result.least > 0 for one in whole.found)
    assert findings(whole) == alone(NEAR)


TWO_SLIDES = """
format = 1
name = "Two slides beside each other"
[parts.bed]
fixed = true
shapes = [{ name = "wall", box = [0, 0, 0], size = [20, 20, 20] }]
[parts.first]
shapes = [{ name = "block", box = [0, 40, 0], size = [20, 20, 20] }]
[parts.knob]
shapes = [{ name = "knob", box = [0, 40, 30], size = [6, 6, 6] }]
[parts.second]
shapes = [{ name = "block", box = [0, 70, 0], size = [20, 20, 20] }]
[joints.one]
slide = ["bed", "first"]
at = [0, 40, 0]
along = [0, -1, 0]
[joints.lift]
slide = ["first", "knob"]
at = [0, 40, 30]
along = [0, 0, 1]
[joints.two]
slide = ["bed", "second"]
at = [0, 70, 0]
along = [0, -1, 0]
[drives.a]
slides = { one = 1 }
range = [-2, 15]
[drives.up]
slides = { lift = 1 }
range = [0, 5]
[drives.b]
slides = { two = 1 }
range = [-20, 0]
[clearance]
required = 1
"""
OF_FIRST = {("bed", "first"), ("bed", "knob"), ("first", "knob")}


@pytest.mark.parametrize(
    ("before", "after", "known"),
    [
        ("[0, 70, 0]\nalong = [0, -1, 0]", "[0, 70, 0]\nalong = [0.1, -1, 0]", OF_FIRST),
        ("[0, 40, 0]\nalong = [0, -1, 0]", "[0, 40, 0]\nalong = [0.1, -1, 0]", {("bed", "second")}),
    ],
    ids=["motion of the second", "motion of the first"],
)
def test_an_edit_of_one_group_leaves_the_pairs_of_others_known(before, after, known):
    """What is recalled is, to the last bit, what a sweep of the edited machine alone finds."""
    assert before in TWO_SLIDES
    memory = Remembered()
    swept(TWO_SLIDES, memory, decide_only=True)
    text = TWO_SLIDES.replace(before, after)
    again = swept(text, memory, decide_only=True)
    recalled = {(state.pair.a, state.pair.b) for state in again.swept.states if not state.searched}
    assert recalled == known
    assert findings(again) == findings(swept(text, decide_only=True))
