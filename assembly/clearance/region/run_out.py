"""What runs out first on the way from rest to the end of a drive, for each of many settings of the other drives.

Looked at step by step on a lattice of settings and then closed in on: found, not proven.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from copy import copy
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from assembly.clearance.narrow_phase.pair_result import Setting
from assembly.clearance.narrow_phase.queries import Bench
from assembly.clearance.proof.pair_search import PairSearch
from assembly.clearance.proof.pair_table import ROOM, PairTable
from assembly.clearance.proof.rolled_least import RolledQuery, distances_over_rolls, least_over_rolls
from assembly.clearance.proof.solid_table import Boxes, SolidTable
from assembly.clearance.region.lattice_distances import measured_lattice
from assembly.geometry.mesh import Flags, Floats
from assembly.kinematics.joint_limits import limits_of
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.roll_columns import roll_name
from assembly.kinematics.solver import follow, solve

STEPS = 24
"""Steps from rest to the end of a drive."""
SHORT_OF_LOCK = 0.9999
"""Share of the way to where the machine locks, at which pairs and joints are still looked at."""
HAIR = 0.06
"""mm that a stop leaves over what must be proven."""
TOGETHER = 5
"""Steps looked at in one go: ways that have ended are not gone on."""
BISECTIONS = 14
BACK = 1e-3
"""Share of a step by which one goes back to see how fast room is lost."""

TOUCH = 1e-6
"""mm: a pair that need keep no clearance must still not touch."""


class Cause(StrEnum):
    """What ends a way."""

    PAIR = "pair"
    """Two parts come nearer than they must keep."""
    JOINT = "joint"
    """A joint comes nearer to its limit than it must keep."""
    LOOP = "loop"
    """The machine locks, folds over or cannot be assembled."""
    RANGE = "range"
    """Nothing before the end of the range that the file asks for."""
    END = "end"
    """Nothing, as far as was looked."""


@dataclass(frozen=True, slots=True)
class RunOut:
    """The end of one way: the setting ``at`` which it ends, and what ends it (parts or a joint, by name).

    ``kept`` mm or degrees are asked for; ``pace``: how many of them are lost per unit of the drive there. ``rolls``:
    names and degrees of those at which parts that can roll come so near.
    """

    cause: Cause
    at: Setting
    names: tuple[str, ...] = ()
    kept: float = 0.0
    pace: float = 0.0
    shapes: tuple[str, str] = ("", "")
    rolls: tuple[tuple[str, float], ...] = ()


def _provable(search: PairSearch) -> float:
    """What a pair must keep, and a hair more, so that it can be proven of the surfaces as they are drawn."""
    return search.pair.required + search.a.surface_error + search.b.surface_error + HAIR


def _keeping(solid_table: SolidTable, clearance: float | None) -> SolidTable:
    """``solid_table`` with each pair to keep at least ``clearance`` mm; None: only not to touch."""
    kept = copy(solid_table)
    kept.searches = [
        PairSearch(
            replace(one.pair, required=0.0 if clearance is None else max(_provable(one), clearance)),
            one.a,
            one.b,
            one.reduced,
            one.rolls,
            one.carriers,
        )
        for one in solid_table.searches
    ]
    return kept


class Ways:
    """Ways from rest along one drive, for many settings of the others.

    ``clearance`` and ``reserve``: what pairs and joints must keep (mm, None for pairs that must only not touch; mm or
    degrees). ``bench`` measures the solids of ``solid_table``.
    """

    def __init__(
        self, mechanism: Mechanism, solid_table: SolidTable, bench: Bench, clearance: float | None, reserve: float
    ) -> None:
        self.mechanism, self.solid_table, self.bench, self.reserve = (
            mechanism,
            _keeping(solid_table, clearance),
            bench,
            reserve,
        )
        self.limits = limits_of(mechanism)
        self._survey = PairTable(mechanism, self.solid_table, bench)

    def run_out(self, column: int, end: float, others: Floats, known: Sequence[RunOut] | None = None) -> list[RunOut]:
        """What ends each of M ways of drive ``column`` from rest to its setting ``end``, in the order of ``others``.

        ``others`` (M, d), a whole lattice: the settings of the other drives. ``known``: what ends them where more must
        be kept, so that nothing ends them sooner.
        """
        steps = np.linspace(0.0, end, STEPS + 1)
        lattice = np.repeat(others[None], len(steps), axis=0)
        lattice[:, :, column] = steps[:, None]
        open_ = np.ones(lattice.shape[:2], dtype=bool)
        if known is not None:
            open_ = np.abs(steps)[:, None] >= np.abs([one.at[column] for one in known])
        first = np.full(len(others), -1)
        for start in range(0, len(steps), TOGETHER):
            some = slice(start, start + TOGETHER)
            short = self._short(lattice[some], open_[some] & (first < 0))
            here = np.flatnonzero((first < 0) & short.any(axis=0))
            first[here] = start + short[:, here].argmax(axis=0)
            if (first >= 0).all():
                break
        rows = np.flatnonzero(first >= 0)
        ends = self._first(lattice[np.maximum(first[rows] - 1, 0), rows], lattice[first[rows], rows])
        found = dict(zip(rows.tolist(), ends, strict=True))
        return [found.get(row) or RunOut(Cause.END, _setting(lattice[-1, row])) for row in range(len(others))]

    def _short(self, lattice: Floats, asked: Flags) -> Flags:
        """Where (S, M) in a lattice (S, M, d) something comes too near, or to an end, of the settings ``asked``."""
        short, rows = np.zeros(asked.size, dtype=bool), np.flatnonzero(asked)
        if not len(rows):
            return short.reshape(asked.shape)
        settings, place = lattice.reshape(asked.size, -1), np.zeros(asked.size, dtype=np.intp)
        place[rows] = np.arange(len(rows))
        solved = solve(self.mechanism, settings[rows])
        whole = replace(solved.take(place), settings=settings, reached=solved.reached[place] & asked.reshape(-1))
        short[rows] = ~solved.reached
        short |= measured_lattice(self._survey, whole, ceiling=TOUCH).found[ROOM] < TOUCH
        for limit in self.limits:
            short[rows] |= limit.reserve(solved.posture) < self.reserve
        return short.reshape(asked.shape)

    def _first(self, clear: Floats, short: Floats) -> list[RunOut]:
        """What runs out first on each of K ways (K, d) from where nothing has to where something has."""
        if not len(clear):
            return []
        reached = solve(self.mechanism, short).reached
        short, locked = short.copy(), np.flatnonzero(~reached)
        if len(locked):
            known = solve(self.mechanism, clear[locked])
            way = follow(self.mechanism, known, np.arange(len(locked)), short[locked])
            short[locked] = clear[locked] + way.share[:, None] * (short[locked] - clear[locked])
        ends = {row: RunOut(Cause.LOOP, _setting(short[row])) for row in locked.tolist()}
        short[locked] = clear[locked] + SHORT_OF_LOCK * (short[locked] - clear[locked])
        gone = {row: float(np.abs(np.array(end.at) - clear[row]).sum()) for row, end in ends.items()}
        for row, end in (*self._pairs(clear, short), *self._joints(clear, short)):
            far = float(np.abs(np.array(end.at) - clear[row]).sum())
            if far < gone.get(row, np.inf):
                ends[row], gone[row] = end, far
        return [ends[row] for row in range(len(clear))]

    def _pairs(self, clear: Floats, short: Floats) -> Iterator[tuple[int, RunOut]]:
        near = self._near_pairs(short)
        if not near:
            return
        searches, rows = [search for search, _ in near], np.array([row for _, row in near], dtype=np.intp)
        kept = np.array([max(search.pair.required, TOUCH) for search in searches])
        at = _closed_in(
            lambda settings: self._distances(searches, settings, kept.tolist()) < kept, clear[rows], short[rows]
        )
        back = at - BACK * (short[rows] - clear[rows])
        lost = self._distances(searches, back) - self._distances(searches, at)
        for search, row, setting, pace in zip(searches, rows.tolist(), at, _rates(lost, at, back), strict=True):
            pair = search.pair
            names, rolls = (pair.a, pair.b), self._rolls(search, setting)
            yield row, RunOut(Cause.PAIR, _setting(setting), names, pair.required, pace, rolls=rolls)

    def _rolls(self, search: PairSearch, setting: Floats) -> tuple[tuple[str, float], ...]:
        """The rolls at which a pair is the nearest at one setting (d,)."""
        if not search.rolls:
            return ()
        mechanism, posture = self.mechanism, solve(self.mechanism, setting[None]).posture
        one = RolledQuery(search, np.zeros(1, dtype=np.intp), np.full(1, np.inf))
        (least,) = least_over_rolls(self._survey, posture, [one])
        names = (roll_name(mechanism.bodies, mechanism.idle[number]) for number in search.rolls)
        return tuple(zip(names, least.rolls[0].tolist(), strict=True))

    def _near_pairs(self, settings: Floats) -> list[tuple[PairSearch, int]]:
        """Each pair that is nearer than it must be at one of the settings (K, d), and the number of that."""
        boxes = Boxes(self.mechanism, solve(self.mechanism, settings).posture)
        asked = []
        for whole in self._survey.wholes:
            near = boxes.gaps(whole) <= max(whole.search.pair.required, TOUCH)
            close = np.flatnonzero(near | bool(whole.search.rolls))
            if len(close):
                asked.append((whole.search, close))
        searches = [search for search, _ in asked]
        below = [max(search.pair.required, TOUCH) for search in searches]
        found = distances_over_rolls(self._survey, searches, [settings[rows] for _, rows in asked], below)
        return [
            (search, row)
            for (search, rows), distances in zip(asked, found, strict=True)
            for row in rows[distances < max(search.pair.required, TOUCH)].tolist()
        ]

    def _distances(
        self, searches: Sequence[PairSearch], settings: Floats, below: Sequence[float] | None = None
    ) -> Floats:
        own = [setting[None] for setting in settings]
        return np.concatenate(distances_over_rolls(self._survey, searches, own, below))

    def _joints(self, clear: Floats, short: Floats) -> Iterator[tuple[int, RunOut]]:
        posture = solve(self.mechanism, short).posture
        past = np.array([limit.reserve(posture) < self.reserve for limit in self.limits])
        numbers, rows = np.nonzero(past.reshape(len(self.limits), len(short)))
        if not len(rows):
            return
        at = _closed_in(lambda settings: self._left(numbers, settings) < self.reserve, clear[rows], short[rows])
        back = at - BACK * (short[rows] - clear[rows])
        rates = _rates(self._left(numbers, back) - self._left(numbers, at), at, back)
        for number, row, setting, pace in zip(numbers.tolist(), rows.tolist(), at, rates, strict=True):
            yield row, RunOut(Cause.JOINT, _setting(setting), (self.limits[number].joint,), self.reserve, pace)

    def _left(self, numbers: NDArray[np.intp], settings: Floats) -> Floats:
        """Reserve (K,) of the limit with each of ``numbers`` at its own setting (K, d)."""
        posture, left = solve(self.mechanism, settings).posture, np.zeros(len(numbers))
        for number in np.unique(numbers):
            rows = np.flatnonzero(numbers == number)
            left[rows] = self.limits[number].reserve(posture.take(rows))
        return left


def _rates(lost: Floats, at: Floats, back: Floats) -> list[float]:
    """What is lost per unit of the drive, of the drive's whole way between ``back`` and ``at`` (K, d)."""
    ways = np.abs(at - back).sum(axis=1)
    found: list[float] = np.where(ways > 0, lost / np.where(ways > 0, ways, 1.0), 0.0).tolist()
    return found


def _closed_in(holds: Callable[[Floats], Flags], clear: Floats, short: Floats) -> Floats:
    """Where (K, d) each of K conditions begins to hold between ``clear`` and ``short`` (K, d)."""
    low, high = clear, short
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        true = holds(middle)[:, None]
        low, high = np.where(true, low, middle), np.where(true, middle, high)
    return high


def _setting(values: Floats) -> Setting:
    return tuple(float(value) for value in values)
