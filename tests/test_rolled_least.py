"""The least over a fan of rolls is what measuring every roll of it gives, with few measured where little is asked."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest
from small_machines import quiet
from tries import first

from assembly.clearance.narrow_phase.checked_pairs import gather_pairs
from assembly.clearance.narrow_phase.distance import meets
from assembly.clearance.narrow_phase.queries import Job, bench
from assembly.clearance.proof.pair_search import PairSearch
from assembly.clearance.proof.pair_table import PairTable
from assembly.clearance.proof.roll_fan import fan_of
from assembly.clearance.proof.rolled_least import LeastOverRolls, RolledQuery, least_at_postures, least_over_rolls
from assembly.clearance.proof.solid_table import stock_of
from assembly.clearance.stops.design_tasks import DesignContext
from assembly.clearance.stops.stop_ways import Corrections, KnownWays
from assembly.geometry.rotations import inverse_rigid
from assembly.kinematics.assembling import assemble
from assembly.kinematics.solver import solve
from assembly.model.reader import machine_from_text
from assembly.model.stop_solids import without_stops
from assembly.parallel.every_result import EveryResult

CASES = Path(__file__).resolve().parent / "cases"
LUG, BENT = ((CASES / f"{name}.toml").read_text() for name in ("rolling_rod_with_lug", "bent_rod_rolls"))
STOPS = (CASES / "rolling_rod_with_stops.toml").read_text()
UNRATED = BENT.replace("misalignment = 14\n", "")
INSIDE = LUG.replace(
    'name = "wall left", box = ',
    'name = "wall left", box = [200, 0, 0], size = [300, 300, 300] },\n { name = "w", box = ',
)
"""The whole rod lies within a block."""
WIDE = STOPS.replace("misalignment = 6", "misalignment = 60")


@contextmanager
def surveyed(text: str) -> Iterator[PairTable]:
    machine = machine_from_text(text, CASES)
    mechanism = assemble(machine)
    solid_table = stock_of(mechanism, gather_pairs(machine, mechanism.bodies).moving)
    with bench(solid_table.solids, 1) as queries:
        yield PairTable(mechanism, solid_table, queries)


def settings_of(pair_table: PairTable, count: int) -> np.ndarray:
    drives = pair_table.mechanism.machine.drives.values()
    return np.stack([np.linspace(drive.low, drive.high, count) for drive in drives], axis=1)


def brute(pair_table: PairTable, search: PairSearch, posture) -> LeastOverRolls:
    """Every roll of the fan with both parts whole; a part inside another counts as touching it."""
    mechanism, collision_models = pair_table.mechanism, pair_table.bench.collision_models
    fan = fan_of(mechanism, pair_table.rods, posture, search.rolls)
    place_a, place_b = (mechanism.world_from_rest(fan.posture, side.part) for side in (search.a, search.b))
    job = Job(search.a.solid, search.b.solid, inverse_rigid(place_a) @ place_b)
    distances = pair_table.bench.measure([job])[0]
    a, b = collision_models[search.a.solid], collision_models[search.b.solid]
    distances[[meets(a, b, *places) for places in zip(place_a, place_b, strict=True)]] = 0.0
    rows = [np.flatnonzero(fan.rows == row) for row in range(len(posture))]
    best = [row[np.argmin(distances[row])] for row in rows]
    return LeastOverRolls(distances[best], fan.rolls[best])


@pytest.mark.parametrize("text", first([LUG, BENT, INSIDE, STOPS, WIDE, UNRATED], 3))
def test_the_least_is_that_of_every_roll_measured(text):
    with surveyed(text) as pair_table:
        posture = solve(pair_table.mechanism, settings_of(pair_table, 9)).posture
        rows, any_far = np.arange(9), np.full(9, np.inf)
        searches = [search for _, search in pair_table.rolling]
        expected = [brute(pair_table, search, posture) for search in searches]
        found = least_over_rolls(pair_table, posture, [RolledQuery(search, rows, any_far) for search in searches])
        assert searches
        for one, every in zip(found, expected, strict=True):
            assert one.distance == pytest.approx(every.distance, abs=1e-9)


# own count: the fans have 10 to 28 rolls for each setting and pair
@pytest.mark.parametrize("text", [WIDE, BENT])
def test_few_rolls_are_measured_where_only_less_than_the_clearance_is_asked_for(text):
    with surveyed(text) as pair_table:
        posture = solve(pair_table.mechanism, settings_of(pair_table, 9)).posture
        for _, search in pair_table.rolling:
            asked = RolledQuery(search, np.arange(9), np.full(9, search.pair.required))
            least_over_rolls(pair_table, posture, [asked])
        every = sum(
            len(fan_of(pair_table.mechanism, pair_table.rods, posture, one.rolls).rows) for _, one in pair_table.rolling
        )
        assert pair_table.bench.queries < 0.25 * every


@pytest.mark.parametrize("text", [LUG, WIDE, UNRATED])
def test_the_least_is_found_at_the_roll_that_is_told(text):
    with surveyed(text) as pair_table:
        posture = solve(pair_table.mechanism, settings_of(pair_table, 5)).posture
        for _, search in pair_table.rolling:
            (found,) = least_over_rolls(pair_table, posture, [RolledQuery(search, np.arange(5), np.full(5, np.inf))])
            fan = fan_of(pair_table.mechanism, pair_table.rods, posture, search.rolls)
            told = [np.flatnonzero((fan.rows == row) & (fan.rolls == found.rolls[row]).all(axis=1)) for row in range(5)]
            place = fan.posture.take(np.array([rows[0] for rows in told]))
            a, b = (pair_table.mechanism.world_from_rest(place, side.part) for side in (search.a, search.b))
            (distances,) = pair_table.bench.measure([Job(search.a.solid, search.b.solid, inverse_rigid(a) @ b)])
            assert distances == pytest.approx(found.distance, abs=1e-9)


def distances_over_rolls(pair_table, searches, settings, below=None, *, whether=False):
    """Distances (k,) mm of each pair at its own settings (k, d); as ``least_at_postures``."""
    every, row = np.unique(np.concatenate(settings), axis=0, return_inverse=True)
    own_rows = np.split(row.reshape(-1), np.cumsum([len(own) for own in settings])[:-1])
    return least_at_postures(pair_table, searches, solve(pair_table.mechanism, every), own_rows, below, whether=whether)


@pytest.mark.parametrize("text", [LUG, UNRATED])
def test_what_is_below_is_told_and_what_is_not_stays_above(text):
    with surveyed(text) as pair_table:
        settings = settings_of(pair_table, 9)
        for _, search in pair_table.rolling:
            every = brute(pair_table, search, solve(pair_table.mechanism, settings).posture).distance
            limit = float(np.median(every)) + 1e-6
            (found,) = distances_over_rolls(pair_table, [search], [settings], [limit])
            below = every < limit
            assert below.any()
            assert found[below] == pytest.approx(every[below], abs=1e-9)
            assert (found[~below] >= every[~below] - 1e-9).all()
            (asked,) = distances_over_rolls(pair_table, [search], [settings], [limit], whether=True)
            assert ((asked < limit) == below).all()
            assert (asked >= every - 1e-9).all()


def test_pairs_asked_together_at_other_settings_are_told_as_if_alone():
    with surveyed(WIDE) as pair_table:
        settings = settings_of(pair_table, 12)
        searches = [search for _, search in pair_table.rolling]
        own = [settings[start % 3 :: 3] for start in range(len(searches))]
        together = distances_over_rolls(pair_table, searches, own)
        for search, mine, found in zip(searches, own, together, strict=True):
            (alone,) = distances_over_rolls(pair_table, [search], [mine[::-1]])
            assert found.tolist() == alone[::-1].tolist()


def test_ways_without_margins_are_told_as_if_those_with_margins_were_not_known():
    bare = without_stops(machine_from_text(STOPS, CASES)).widened
    drive, lattice, mechanism = bare.drives["r"], np.zeros((1, 1)), assemble(bare)
    stop = machine_from_text(STOPS, CASES).stops["up"]
    solid_table = stock_of(mechanism, gather_pairs(bare, mechanism.bodies).moving)
    context, none = DesignContext(mechanism, solid_table), Corrections()
    alone = KnownWays(mechanism, EveryResult(context, None, quiet), none).free(drive, stop.side, lattice)
    cost = context.bench.queries
    ways = KnownWays(mechanism, EveryResult(context, None, quiet), none)
    ways.way(drive, stop, (0.0,))
    before = context.bench.queries
    assert ways.free(drive, stop.side, lattice) == alone
    assert context.bench.queries - before < cost


@pytest.mark.parametrize("text", [WIDE, UNRATED])
def test_what_is_measured_at_some_postures_spares_those_near_them(text):
    """The least stays the same to the last bit wherever it is below what is asked for; own count of the queries."""
    count = 27
    anchor = np.arange(count) // 9 * 9 + 4
    with surveyed(text) as pair_table:
        posture = solve(pair_table.mechanism, settings_of(pair_table, count)).posture
        asked = [
            RolledQuery(search, np.arange(count), np.full(count, search.pair.required))
            for _, search in pair_table.rolling
        ]
        alone = least_over_rolls(pair_table, posture, asked)
        cost = pair_table.bench.queries
        told = least_over_rolls(pair_table, posture, asked, [anchor])
        for query, one, other in zip(asked, told, alone, strict=True):
            assert (np.where(one.distance < query.below, one.distance, np.inf)).tolist() == (
                np.where(other.distance < query.below, other.distance, np.inf)
            ).tolist()
        assert pair_table.bench.queries - cost < 0.8 * cost
