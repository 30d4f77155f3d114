"""What ends the way along a drive, closed in on from two settings between which it does: found, not proven."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from assembly.clearance.narrow_phase.pair_result import Setting
from assembly.clearance.proof.pair_search import PairSearch
from assembly.clearance.proof.pair_table import PairTable
from assembly.clearance.proof.rolled_least import RolledQuery, distances_over_rolls, least_over_rolls
from assembly.clearance.proof.solid_table import Boxes
from assembly.geometry.mesh import Flags, Floats
from assembly.kinematics.joint_limits import Limit, limits_of
from assembly.kinematics.measure_limits import MeasureLimit, measure_limits
from assembly.kinematics.roll_columns import roll_name
from assembly.kinematics.solver import follow, solve

SHORT_OF_LOCK = 0.9999
"""Share of the way to where the machine locks, at which pairs and joints are still looked at."""
CUTS = 7
"""How often a way is cut in four until its end is known; settings solved together cost little more than one."""
BACK = 1e-3
"""Share of a step by which one goes back to see how fast clearance is lost."""

TOUCH = 1e-6
"""mm: a pair that need keep no clearance must still not touch."""


class Cause(StrEnum):
    """What ends a way."""

    PAIR = "pair"
    """Two parts come nearer than they must keep."""
    JOINT = "joint"
    """A joint comes nearer to its limit than it must keep."""
    MEASURE = "measure"
    """A measure reaches its limit."""
    LOOP = "loop"
    """The machine locks, folds over or cannot be assembled."""
    RANGE = "range"
    """Nothing before the end of the range that the file asks for."""
    END = "end"
    """Nothing, as far as was looked."""


@dataclass(frozen=True, slots=True)
class RunOut:
    """The end of one way: the setting ``at`` which it ends, and what ends it (parts, a joint or a measure, by name).

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


@dataclass(frozen=True, slots=True)
class _Condition:
    """What may end the way of number ``row``: a pair, or else the limit of number ``limit``, has less than ``kept``."""

    row: int
    kept: float
    search: PairSearch | None
    limit: int = -1


class WayEnds:
    """Ends of ways on which each pair of ``pair_table`` must keep what it asks for, each joint its ``reserve``.

    With ``measures`` each measure must keep its limits as well.
    """

    def __init__(self, pair_table: PairTable, reserve: float, *, measures: bool) -> None:
        self.mechanism, self.pair_table = pair_table.mechanism, pair_table
        limits: list[tuple[Limit, float]] = [(limit, reserve) for limit in limits_of(pair_table.mechanism)]
        if measures:
            limits += [(limit, 0.0) for limit in measure_limits(pair_table.mechanism)]
        self.limits = tuple(limits)
        """Every limit, and what must be kept of it."""

    def first(self, clear: Floats, short: Floats) -> list[RunOut]:
        """What runs out first on each of K ways (K, d) from where nothing has to where something has."""
        if not len(clear):
            return []
        reached = solve(self.mechanism, short).reached
        short, locked = short.copy(), np.flatnonzero(~reached)
        if len(locked):
            known = solve(self.mechanism, clear[locked])
            way = follow(self.mechanism, known, np.arange(len(locked)), short[locked])
            short[locked] = clear[locked] + way.share[:, None] * (short[locked] - clear[locked])
        ends = {row: RunOut(Cause.LOOP, setting_of(short[row])) for row in locked.tolist()}
        gone = np.full(len(clear), np.inf)
        gone[locked] = np.abs(short[locked] - clear[locked]).sum(axis=1)
        short[locked] = clear[locked] + SHORT_OF_LOCK * (short[locked] - clear[locked])
        asked = [*self._near_pairs(short), *self._past_limits(short)]
        at = self._closed_in(asked, clear, short, gone)
        numbers = [*_first_of_each(asked, np.abs(at - clear[[one.row for one in asked]]).sum(axis=1), gone)]
        rows = [asked[number].row for number in numbers]
        told = self._told([asked[number] for number in numbers], at[numbers], short[rows] - clear[rows])
        ends |= dict(zip(rows, told, strict=True))
        return [ends[row] for row in range(len(clear))]

    def _closed_in(self, asked: Sequence[_Condition], clear: Floats, short: Floats, gone: Floats) -> Floats:
        """Where (K, d) each condition begins to hold on its way between ``clear`` and ``short`` (M, d).

        Those that begin after another on the same way, or farther than ``gone`` (M,), are not closed in on any more.
        """
        rows = np.array([one.row for one in asked], dtype=np.intp)
        low, high = clear[rows], short[rows]
        for _ in range(CUTS):
            first = gone.copy()
            np.minimum.at(first, rows, np.abs(high - clear[rows]).sum(axis=1))
            left = np.flatnonzero(np.abs(low - clear[rows]).sum(axis=1) < first[rows])
            ends = _quartered(low[left], high[left])
            some = [asked[number] for number in left.tolist()] * 3
            true = self._hold(some, ends[1:-1].reshape(-1, clear.shape[1])).reshape(3, -1)
            cut, own = np.where(true.any(axis=0), true.argmax(axis=0), 3), np.arange(len(left))
            low[left], high[left] = ends[cut, own], ends[cut + 1, own]
        return high

    def _hold(self, asked: Sequence[_Condition], settings: Floats) -> Flags:
        """Whether (K,) each condition holds at its own setting (K, d)."""
        kept = np.array([one.kept for one in asked])
        found: Flags = self._figures(asked, settings, whether=True) < kept
        return found

    def _figures(self, asked: Sequence[_Condition], settings: Floats, *, whether: bool = False) -> Floats:
        """Distance or reserve (K,) of each condition at its own setting (K, d); or ``whether`` less than is kept."""
        found = np.zeros(len(asked))
        pairs = [(number, one.search) for number, one in enumerate(asked) if one.search is not None]
        if pairs:
            numbers, searches = [number for number, _ in pairs], [search for _, search in pairs]
            below = [asked[number].kept for number in numbers] if whether else None
            own = [settings[number][None] for number in numbers]
            found[numbers] = np.concatenate(
                distances_over_rolls(self.pair_table, searches, own, below, whether=whether)
            )
        joints = [number for number, one in enumerate(asked) if one.search is None]
        if joints:
            posture = solve(self.mechanism, settings[joints]).posture
            for place, number in enumerate(joints):
                limit, _ = self.limits[asked[number].limit]
                found[number] = limit.reserve(posture.take(np.array([place])))[0]
        return found

    def _told(self, asked: Sequence[_Condition], at: Floats, steps: Floats) -> list[RunOut]:
        """The ends of K ways where conditions begin to hold, at settings ``at`` (K, d) of ``steps`` (K, d) on them."""
        if not asked:
            return []
        back = at - BACK * steps
        before, then = self._figures([*asked, *asked], np.concatenate([back, at])).reshape(2, -1)
        ways = np.abs(at - back).sum(axis=1)
        paces = np.where(ways > 0, (before - then) / np.where(ways > 0, ways, 1.0), 0.0).tolist()
        every = zip(asked, map(setting_of, at), paces, self._rolls(asked, at), strict=True)
        return [self._end(*each) for each in every]

    def _end(self, one: _Condition, at: Setting, pace: float, rolls: tuple[tuple[str, float], ...]) -> RunOut:
        if one.search is None:
            limit = self.limits[one.limit][0]
            cause = Cause.MEASURE if isinstance(limit, MeasureLimit) else Cause.JOINT
            return RunOut(cause, at, (limit.joint,), one.kept, pace)
        pair = one.search.pair
        return RunOut(Cause.PAIR, at, (pair.a, pair.b), pair.required, pace, rolls=rolls)

    def _rolls(self, asked: Sequence[_Condition], settings: Floats) -> list[tuple[tuple[str, float], ...]]:
        """The rolls at which each condition's pair is the nearest at its own setting (K, d)."""
        told: list[tuple[tuple[str, float], ...]] = [()] * len(asked)
        rolled = [(row, one.search) for row, one in enumerate(asked) if one.search is not None and one.search.rolls]
        if not rolled:
            return told
        mechanism, posture = self.mechanism, solve(self.mechanism, settings[[row for row, _ in rolled]]).posture
        queries = [RolledQuery(search, np.array([k]), np.full(1, np.inf)) for k, (_, search) in enumerate(rolled)]
        for (row, search), least in zip(rolled, least_over_rolls(self.pair_table, posture, queries), strict=True):
            names = (roll_name(mechanism.bodies, mechanism.idle[number]) for number in search.rolls)
            told[row] = tuple(zip(names, least.rolls[0].tolist(), strict=True))
        return told

    def _near_pairs(self, settings: Floats) -> list[_Condition]:
        """Each pair that is nearer than it must be at one of the settings (K, d), and the number of that."""
        boxes = Boxes(self.mechanism, solve(self.mechanism, settings).posture)
        asked = []
        for whole in self.pair_table.wholes:
            near = boxes.gaps(whole) <= max(whole.search.pair.required, TOUCH)
            close = np.flatnonzero(near | bool(whole.search.rolls))
            if len(close):
                asked.append((whole.search, close))
        searches = [search for search, _ in asked]
        below = [max(search.pair.required, TOUCH) for search in searches]
        found = distances_over_rolls(
            self.pair_table, searches, [settings[rows] for _, rows in asked], below, whether=True
        )
        return [
            _Condition(row, kept, search)
            for (search, rows), distances, kept in zip(asked, found, below, strict=True)
            for row in rows[distances < kept].tolist()
        ]

    def _past_limits(self, settings: Floats) -> Iterator[_Condition]:
        """Each joint or measure that is nearer to its limit than it must be at one of the settings (K, d)."""
        posture = solve(self.mechanism, settings).posture
        for number, (limit, kept) in enumerate(self.limits):
            for row in np.flatnonzero(limit.reserve(posture) < kept).tolist():
                yield _Condition(row, kept, None, number)


def _quartered(low: Floats, high: Floats) -> Floats:
    """Both ends (K, d) of K ways and three settings between them (5, K, d)."""
    middle = (low + high) / 2
    return np.stack([low, (low + middle) / 2, middle, (middle + high) / 2, high])


def _first_of_each(asked: Sequence[_Condition], far: Floats, gone: Floats) -> Iterator[int]:
    """Of each way the number of the condition that holds first, at ``far`` (K,) from where the way is clear.

    Of those alike the first; none where the way is ``gone`` (M,) no farther.
    """
    best = gone.copy()
    first: dict[int, int] = {}
    for number, one in enumerate(asked):
        if far[number] < best[one.row]:
            best[one.row], first[one.row] = far[number], number
    yield from first.values()


def setting_of(values: Floats) -> Setting:
    """One setting (d,) as plain numbers."""
    return tuple(float(value) for value in values)
