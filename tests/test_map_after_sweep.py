"""What a sweep has proven of a pair is not looked for again by the map after it, and no cell says less for it."""

from dataclasses import replace
from math import cos, radians, sin
from pathlib import Path

import numpy as np
import pytest
from small_machines import quiet, read
from test_mapping import TABLE, tool_gap
from tries import first

import assembly.clearance.region.mapped_pairs
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.narrow_phase.queries import bench
from assembly.clearance.proof.roll_fan import least_at_any_roll
from assembly.clearance.proof.solid_table import stock_of
from assembly.model.reader import machine_from_text
from assembly.studies.map_study import MapWish, map_clearance
from assembly.studies.sweep.check import check

CASES = Path(__file__).resolve().parent / "cases"
LUG = (CASES / "rolling_rod_with_lug.toml").read_text()
KEPT_OFF = LUG.replace("misalignment = 12", "misalignment = 1.5").replace("need = 20", "need = 1")
"""Its ends allow rolls from r - 1.5 to r + 1.5 and from -1.5 to 1.5: none where r is beyond 3."""


@pytest.fixture(scope="module")
def table():
    """A cross table, the sweep of it, and its map as if there had been none."""
    machine = read(TABLE)
    before = check(machine, Effort(), quiet).before
    return machine, before, map_clearance(machine, MapWish(cells=5), quiet)


@pytest.mark.parametrize("first", first([1, 12], 1))
def test_a_map_after_a_sweep_measures_less_and_says_no_less(table, first, monkeypatch):
    machine, before, bare = table
    monkeypatch.setattr(assembly.clearance.region.mapped_pairs, "FIRST", first)
    told = map_clearance(machine, MapWish(cells=5), quiet, swept=before)
    assert told.queries < bare.queries if first == 1 else told.queries <= bare.queries
    lowest = min(before.proven[pair] for pair in before.pairs.checked if not pair.rigidly_coupled)
    for cell, without in zip(told.record.cells, bare.record.cells, strict=True):
        x, y = cell.at["x"], cell.at["y"]
        assert cell.least_mm == pytest.approx(tool_gap(x, y), abs=1e-4)  # closed form
        assert (cell.least_mm, cell.room_mm, cell.a, cell.b) == (
            without.least_mm,
            without.room_mm,
            without.a,
            without.b,
        )
        nearest = tool_gap(x + 8, y + 5)  # closed form: the corner of the cell, 16 by 10 wide
        assert min(lowest, nearest) - 1e-4 <= cell.proven_mm <= nearest + 1e-6


def test_pairs_that_never_move_and_are_known_to_keep_their_clearance_are_not_measured(table):
    machine, before, bare = table
    tight = replace(before, proven={})
    assert map_clearance(machine, MapWish(cells=1), quiet, swept=tight).record.still == bare.record.still
    assert bare.record.still_pairs == sum(pair.rigidly_coupled for pair in before.pairs.checked)


KNOB = KEPT_OFF.replace(
    '{ name = "bolt 1"', '{ name = "knob", sphere = [-83.5, 0, 0], diameter = 10 },\n  { name = "bolt 1"'
)
"""The knob turns on the line of the stick, 1.5 mm off the post (closed form)."""


@pytest.mark.parametrize("high", first([1.0, 4.5], 1))
def test_where_the_ends_of_a_rod_allow_no_roll_the_map_asks_anew(high):
    machine = machine_from_text(KNOB.replace('range = ["-need", "need"]', f"range = [-1, {high}]"), CASES)
    before = check(machine, Effort(), quiet).before
    bare, told = (map_clearance(machine, MapWish(cells=3), quiet, swept=swept) for swept in (None, before))
    np.testing.assert_allclose(told.field.found, bare.field.found, atol=1e-9)
    # closed form: the lug's top, 120 mm off the line, 8 mm from the walls, at the roll that misses both ends least
    last = told.record.cells[-1]
    lug = 8 - 120 * sin(radians(last.at["r"] / 2)) - 3 * cos(radians(last.at["r"] / 2))
    assert last.least_mm == pytest.approx(1.5 if high == 1.0 else lug, abs=0.02)


def test_rolls_are_not_looked_at_once_one_shows_that_nothing_of_use_can_be_proven():
    machine = machine_from_text(KEPT_OFF, CASES)
    before = check(machine, Effort(decide_only=True), quiet).before
    mechanism = before.mechanism
    pairs = before.pairs.only(pair for pair in before.pairs.checked if {pair.a, pair.b} == {"ground", "pushrod"})
    stock = stock_of(mechanism, pairs)
    (search,) = stock.searches
    with bench(stock.solids, 1) as queries:

        def asked(useless):
            done = queries.queries
            posture = mechanism.at_rest.posture
            (least,) = least_at_any_roll(mechanism, queries, search, posture, np.array([1e3]), np.array([useless]))
            return least, queries.queries - done

        every, looks = asked(-1e3)
        assert every <= 0  # closed form: half way round the lug strikes the walls
        assert looks == 36
        assert asked(every - 1e-6) == (every, looks)
        nothing, few = asked(5.0)
        assert nothing == -np.inf
        assert few < 5
