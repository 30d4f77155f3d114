"""What a stop design recalls of ways and pairs is what one from scratch finds, and nothing that an edit matters to.

One machine is edited in each way, one at a time. The oracle is the design without anything known.
"""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from small_machines import quiet
from stop_machines import table_beside_a_post
from test_recalled import Remembered

from assembly.cache.sqlite_cache import packed_end, unpacked_end
from assembly.clearance.narrow_phase.checked_pairs import gather_pairs
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.region.run_out import Cause, RunOut
from assembly.clearance.stops import stop_ways
from assembly.clearance.stops.known_ends import WayAsked, WayKeys
from assembly.kinematics.assembling import assemble
from assembly.model.reader import machine_from_text
from assembly.model.stop_solids import without_stops
from assembly.record import json_text
from assembly.studies.stops.stop_design import settle_stops

CASES = Path(__file__).resolve().parent / "cases"
ROD = (CASES / "rolling_rod_with_stops.toml").read_text(encoding="utf-8")
EDITS = {
    "size of a shape": (
        "rod = [[30, 0, 0], [370, 0, 0]], diameter = 14",
        "rod = [[30, 0, 0], [370, 0, 0]], diameter = 15",
    ),
    "place of a shape": ("box = [200, 28, 50]", "box = [200, 28.5, 50]"),
    "name of a shape": ('name = "lug"', 'name = "ear"'),
    "facets": ("format = 1", "format = 1\nfacet_error = 0.09"),
    "name of a part": ("stick", "lever"),
    "name of a part that rolls": ("pushrod", "rod"),
    "name of a joint": ("b2", "b3"),
    "point of a joint": ("at = [-60, 0, 0]", "at = [-60, 0, 1]"),
    "line of a pin": ("along = [1, 0, 0]", "along = [1, 0, 0.1]"),
    "line of a bolt": ("bolt = [0, 0, 1]", "bolt = [0, 0.1, 1]"),
    "limit of a rod end": ("misalignment = 6", "misalignment = 6.5"),
    "limit of a pin": ("along = [1, 0, 0]\n\n", "along = [1, 0, 0]\nlimit = [-12, 12]\n\n"),
    "seat round a joint": (
        'at = "end1"\nbolt = [0, 0, 1]\nmisalignment = 6\nseat_radius = 16',
        'at = "end1"\nbolt = [0, 0, 1]\nmisalignment = 6\nseat_radius = 17',
    ),
    "range of a drive": ("need = 15", "need = 15.5"),
    "ratio of a drive": ("turns = { roll = 1 }", "turns = { roll = 0.9 }"),
    "clearance of all": ("required = 1", "required = 1.25"),
    "clearance of a pair": ("required = 1", 'required = 1\npairs = [{ between = ["ground", "stick"], required = 2 }]'),
    "a pair left out": ("required = 1", 'required = 1\npairs = [{ between = ["ground", "stick"], ignore = "so" }]'),
    "a part more": (
        "[joints.roll]",
        "[parts.lamp]\nfixed = true\nshapes = [{ box = [0, 90, 0], size = [9, 9, 9] }]\n[joints.roll]",
    ),
    "whether some roll will do": ("[parts.pushrod]", '[parts.pushrod]\nroll = "some"'),
}
NO_MATTER = {
    "nothing": ("", ""),
    "comment": ("# The rod lies", "# A rod lies"),
    "place of a stop": ("at = [-40, 45, 37]", "at = [-40, 45, 37.5]"),
    "kind of a stop": ("pad = { diameter = 10 }", "pad = { diameter = 11 }"),
}
WAY = WayAsked(0, 15.0, (0.0,), (0.0, 2.0))


def way_key(old="", new="", way=WAY):
    assert old in ROD
    bare = without_stops(machine_from_text(ROD.replace(old, new) if old else ROD, CASES)).widened
    mechanism = assemble(bare)
    return WayKeys(mechanism, gather_pairs(bare, mechanism.bodies).moving).of(way)


@pytest.fixture(scope="module")
def own_key():
    return way_key()


@pytest.mark.parametrize("edit", EDITS)
def test_an_edit_that_matters_to_a_way_gives_it_another_key(edit, own_key):
    assert way_key(*EDITS[edit]) != own_key


@pytest.mark.parametrize("edit", NO_MATTER)
def test_an_edit_that_matters_to_no_way_leaves_its_key(edit, own_key):
    assert way_key(*NO_MATTER[edit]) == own_key


@pytest.mark.parametrize(
    "other",
    [
        replace(WAY, end=14.5),
        replace(WAY, end=-15.0),
        replace(WAY, row=(1e-9,)),
        replace(WAY, kept=(None, 2.0)),
        replace(WAY, kept=(0.0, 0.0)),
        replace(WAY, column=1),
    ],
    ids=str,
)
def test_another_way_has_another_key(other, own_key):
    assert way_key(way=other) != own_key


class RememberedStops(Remembered):
    """Ways too, through bytes."""

    def look_up_ends(self, keys):
        return {key: unpacked_end(self.kept[key]) for key in keys if key in self.kept}

    def keep_ends(self, known):
        self.kept.update((key, packed_end(one)) for key, one in known.items())


def test_an_end_comes_back_from_the_cache_with_every_bit():
    memory = RememberedStops()
    ends = {
        "a": RunOut(Cause.PAIR, (0.1, -1 / 3), ("a", "b"), 3.2, -0.0, ("", "s"), (("roll of a", 0.1 + 0.2),)),
        "b": RunOut(Cause.LOOP, (1e-300, 2.0)),
    }
    memory.keep_ends(ends)
    assert memory.look_up_ends(["a", "b", "c"]) == ends


def settled(text, memory=None):
    effort = Effort(decide_only=True, strikes_shown=False)
    record = settle_stops(machine_from_text(text, CASES), effort, quiet, memory=memory).record
    told = json.loads(json_text(record))
    return {**told, "made": "", "proof": {**told["proof"], "cells": 0, "distance_queries": 0}}


def test_an_unchanged_design_goes_no_way_and_searches_no_pair_and_an_edited_one_is_as_from_scratch(monkeypatch):
    """Closed form: under the corner 55 - 40 - 1 = 14 mm are free of 65, over a post 3 mm higher 11."""
    text, memory = table_beside_a_post(), RememberedStops()
    first = settled(text, memory)

    def refuse(*_):
        raise AssertionError("it was searched again")

    with monkeypatch.context() as patched:
        patched.setattr(stop_ways, "ways_task", refuse)
        patched.setattr("assembly.clearance.proof.stages.SearchStages.decide", lambda _, states: states and refuse())
        assert settled(text, memory) == first
    assert 51.0 < first["stops"][0]["to_make_mm"] < 51.2
    higher = settled(text.replace(", 40]], diameter = 4", ", 43]], diameter = 4"), memory)
    assert 54.0 < higher["stops"][0]["to_make_mm"] < 54.2
