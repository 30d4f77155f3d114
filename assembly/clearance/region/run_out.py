"""What ends the way along a drive, closed in on from two settings between which it does: found, not proven."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from assembly.clearance.narrow_phase.pair_result import Setting
from assembly.clearance.proof.pair_search import PairSearch
from assembly.clearance.proof.pair_table import PairTable
from assembly.clearance.proof.rolled_least import RolledQuery, least_at_postures, least_over_rolls
from assembly.clearance.proof.solid_table import Boxes
from assembly.geometry.mesh import Flags, Floats, Ids
from assembly.kinematics.array_stacks import overwritten
from assembly.kinematics.joint_limits import Limit, limits_of
from assembly.kinematics.measure_limits import MeasureLimit, measure_limits
from assembly.kinematics.mechanism import Solved
from assembly.kinematics.roll_columns import roll_name
from assembly.kinematics.solver import follow, solve
from assembly.kinematics.turn_counts import reserves

SHORT_OF_LOCK = 0.9999
"""Share of the way to where the machine locks, at which pairs and joints are still looked at."""
CUTS = 7
"""How often a way is cut in four until its end is known; settings solved together cost little more than one."""
BACK = 1e-3
"""Share of a step by which one goes back to see how fast clearance is lost."""

TOUCH = 1e-6
"""mm: a pair that need keep no clearance must still not touch."""

KnownApart = Callable[[int], Floats]
"""What (K,) mm the pair of a number is apart at least at each of K settings, -inf where that is not known."""


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

    def first(self, clear: Floats, short: Solved, known: KnownApart) -> list[RunOut]:
        """What runs out first on each of K ways (K, d) from where nothing has to where something has.

        ``known``: what pairs are apart where something has.
        """
        if not len(clear):
            return []
        locked = np.flatnonzero(~short.reached)
        ends, gone = dict[int, RunOut](), np.full(len(clear), np.inf)
        if len(locked):
            short = self._before_lock(clear, short, locked)
            ends = {row: RunOut(Cause.LOOP, setting_of(short.settings[row])) for row in locked.tolist()}
            gone[locked] = np.abs(short.settings[locked] - clear[locked]).sum(axis=1)
            just = clear[locked] + SHORT_OF_LOCK * (short.settings[locked] - clear[locked])
            short = overwritten(short, locked, solve(self.mechanism, just))
        asked = [*self._near_pairs(short, known, locked), *self._past_limits(short)]
        at = self._closed_in(asked, clear, short.settings, gone)
        numbers = [*_first_of_each(asked, np.abs(at - clear[[one.row for one in asked]]).sum(axis=1), gone)]
        rows = [asked[number].row for number in numbers]
        told = self._told([asked[number] for number in numbers], at[numbers], short.settings[rows] - clear[rows])
        ends |= dict(zip(rows, told, strict=True))
        return [ends[row] for row in range(len(clear))]

    def _before_lock(self, clear: Floats, short: Solved, locked: Ids) -> Solved:
        """``short`` with the settings at which the ways ``locked`` do lock."""
        known = solve(self.mechanism, clear[locked])
        way = follow(self.mechanism, known, np.arange(len(locked)), short.settings[locked])
        settings = short.settings.copy()
        settings[locked] = clear[locked] + way.share[:, None] * (short.settings[locked] - clear[locked])
        return replace(short, settings=settings)

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
        every, row = np.unique(settings, axis=0, return_inverse=True)
        solved, row, found = solve(self.mechanism, every), row.reshape(-1), np.zeros(len(asked))
        of_pair, of_limit = dict[PairSearch, list[int]](), dict[int, list[int]]()
        for number, one in enumerate(asked):
            if one.search is not None:
                of_pair.setdefault(one.search, []).append(number)
            else:
                of_limit.setdefault(one.limit, []).append(number)
        below = [asked[numbers[0]].kept for numbers in of_pair.values()] if whether else None
        rows = [row[numbers] for numbers in of_pair.values()]
        distances = least_at_postures(self.pair_table, [*of_pair], solved, rows, below, whether=whether)
        for numbers, own in zip(of_pair.values(), distances, strict=True):
            found[numbers] = own
        for limit, numbers in of_limit.items():
            found[numbers] = reserves(self.limits[limit][0], self.mechanism, solved.take(row[numbers]))
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

    def _near_pairs(self, short: Solved, known: KnownApart, locked: Ids) -> list[_Condition]:
        """Each pair that is nearer than it must be at one of K settings, and the number of that.

        At those just before where a way is ``locked`` nothing is known.
        """
        boxes, asked = Boxes(self.mechanism, short.posture), []
        wholes = self.pair_table.wholes
        for number, (whole, gaps) in enumerate(zip(wholes, boxes.every_gap(wholes), strict=True)):
            kept = max(whole.search.pair.required, TOUCH)
            near = (gaps <= kept) | bool(whole.search.rolls)
            if near.any() and not whole.search.rolls:
                apart = known(number)
                apart[locked] = -np.inf
                near &= apart < kept
            if near.any():
                asked.append((whole.search, np.flatnonzero(near)))
        searches = [search for search, _ in asked]
        below = [max(search.pair.required, TOUCH) for search in searches]
        rows = [own for _, own in asked]
        found = least_at_postures(self.pair_table, searches, short, rows, below, whether=True)
        return [
            _Condition(row, kept, search)
            for (search, own), distances, kept in zip(asked, found, below, strict=True)
            for row in own[distances < kept].tolist()
        ]

    def _past_limits(self, short: Solved) -> Iterator[_Condition]:
        """Each joint or measure that is nearer to its limit than it must be at one of K settings."""
        for number, (limit, kept) in enumerate(self.limits):
            for row in np.flatnonzero(reserves(limit, self.mechanism, short) < kept).tolist():
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
