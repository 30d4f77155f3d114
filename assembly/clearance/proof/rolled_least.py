"""The least distance of pairs that rolls move, over the rolls that the ends of rods allow at given postures.

Found at the rolls of a fan (``roll_fan``), not proven between them. A pair is looked at shape by shape. Boxes round all
that a shape fills at any roll rule most out before a roll is measured. From one roll to another no distance changes by
more than the farther points of the shape travel, twice their distance from the line times the sine of half the angle
(closed form), so only rolls that can still lower the least are measured: of each posture the most promising one at a
time, of all pairs and postures together. Where it is said which postures are near which, some are measured first: at
the same roll a distance changes from one posture to another by no more than what a shape fills at any roll moves.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from assembly.clearance.narrow_phase.distance import QUERY_TOLERANCE, contained_at
from assembly.clearance.narrow_phase.queries import Job, job_at
from assembly.clearance.proof.lower_bound import RelativePlaces, rounding_allowance
from assembly.clearance.proof.pair_search import PairSearch
from assembly.clearance.proof.pair_table import PairTable
from assembly.clearance.proof.roll_fan import STEP, Fan, fan_of
from assembly.clearance.proof.rolled_pair import RolledPair, RolledSide, slab_between
from assembly.clearance.proof.solid_table import Boxes
from assembly.geometry.mesh import Flags, Floats, Ids
from assembly.kinematics.joint_motion import WHOLE_TURN
from assembly.kinematics.mechanism import Mechanism, Solved
from assembly.kinematics.rows import Posture

MOST_TOGETHER = 20_000
"""Postures of fans at a time."""


@dataclass(frozen=True, slots=True, eq=False)
class RolledQuery:
    """A pair that rolls move, asked for at the postures ``rows`` (n,), no two alike, as far as ``below`` (n,) mm.

    ``whether``: only whether it is below that is asked, so that any such distance will do.
    """

    search: PairSearch
    rows: Ids
    below: Floats
    whether: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class LeastOverRolls:
    """The least ``distance`` (n,) mm of a pair over its fan, 0 where one lies in the other, and its ``rolls`` (n, k).

    Where no roll of the fan brings the pair nearer than was asked for, it is no less than that: it may be infinite, or
    above the least. Where one does and only that was asked, it is below that, but may be above the least.
    """

    distance: Floats
    rolls: Floats


def least_over_rolls(
    pair_table: PairTable, posture: Posture, asked: Sequence[RolledQuery], anchors: Sequence[Ids] = ()
) -> list[LeastOverRolls]:
    """The least of each pair at its own of N postures, solved with no roll.

    ``anchors`` (N,) each: the number of a posture near each posture, of which fewer and fewer are the same. What is
    measured at those tells of the others.
    """
    boxes, groups = Boxes(pair_table.mechanism, posture), dict[tuple[int, ...], list[_Least]]()
    every = [_Least(one, pair_table.rolled(one.search), len(posture)) for one in asked]
    for least in every:
        least.near = least.open_at(least.pair.gaps(boxes))
        if len(least.near):
            groups.setdefault(least.asked.search.rolls, []).append(least)
    for numbers, group in groups.items():
        rows = np.unique(np.concatenate([least.near for least in group]))
        most = max(1, int(MOST_TOGETHER * (STEP / WHOLE_TURN) ** len(numbers)))
        for start in range(0, len(rows), most):
            some = rows[start : start + most]
            fan = fan_of(pair_table.mechanism, pair_table.rods, posture.take(some), numbers)
            _look_together(pair_table, replace(fan, rows=some[fan.rows]), posture, group, anchors)
    return [LeastOverRolls(least.distance[least.asked.rows], least.rolls[least.asked.rows]) for least in every]


def least_at_postures(
    pair_table: PairTable,
    searches: Sequence[PairSearch],
    solved: Solved,
    own_rows: Sequence[Ids],
    below: Sequence[float] | None = None,
    *,
    whether: bool = False,
) -> list[Floats]:
    """Distances (k,) mm of each pair at its own rows (k,) of ``solved``, the least over the fan where rolls move it.

    Infinite where a setting cannot be reached. Of pairs that rolls move only what is ``below`` mm, one for each pair,
    need be reported, by default all; or only ``whether`` it is.
    """
    found = [np.full(len(rows), np.inf) for rows in own_rows]
    reached = [np.flatnonzero(solved.reached[rows]) for rows in own_rows]
    still = [index for index, search in enumerate(searches) if not search.rolls]
    jobs = [
        job_at(pair_table.mechanism, one.a, one.b, solved.posture.take(own_rows[index][reached[index]]))
        for index, one in ((index, searches[index]) for index in still)
    ]
    for index, distances in zip(still, pair_table.bench.measure(jobs), strict=True):
        found[index][reached[index]] = distances
    asked, into = [], []
    for index in (index for index, search in enumerate(searches) if search.rolls):
        rows, back = np.unique(own_rows[index][reached[index]], return_inverse=True)
        limit = np.full(len(rows), np.inf if below is None else below[index])
        asked.append(RolledQuery(searches[index], rows, limit, whether))
        into.append((index, back.reshape(-1)))
    for (index, back), one in zip(into, least_over_rolls(pair_table, solved.posture, asked), strict=True):
        found[index][reached[index]] = one.distance[back]
    return found


class _Least:
    """What is known of a pair at N postures: the least ``distance`` (N,) mm and its ``rolls`` (N, k).

    ``near``: postures at which boxes do not rule it out.
    """

    def __init__(self, asked: RolledQuery, pair: RolledPair, count: int) -> None:
        self.asked, self.pair, self.near = asked, pair, asked.rows
        self.distance, self.rolls = np.full(count, np.inf), np.zeros((count, len(asked.search.rolls)))
        self._below = np.full(count, -np.inf)
        self._below[asked.rows] = asked.below
        self._asked = np.zeros(count, dtype=bool)
        self._asked[asked.rows] = True

    def open_at(self, bounds: Floats) -> Ids:
        """The postures at which a distance, of which ``bounds`` (N,) is known, may be below what is asked for, or 0."""
        return np.flatnonzero(self._asked & ((bounds < self._below) | (bounds <= 0)))

    def can_fall(self, bounds: Floats, rows: Ids) -> Flags:
        """Whether (n,) something not nearer than ``bounds`` (n,) mm at the postures ``rows`` can be the least."""
        least, below = self.distance[rows], self._below[rows]
        can = (bounds < np.minimum(least, below)) | ((bounds <= 0) & (least > 0))
        return np.asarray(can & (least >= below) if self.asked.whether else can)

    def take_in(self, rows: Ids, distances: Floats, rolls: Floats) -> None:
        """Lower the least by ``distances`` (n,) mm measured at ``rolls`` (n, k)."""
        less = distances < self.distance[rows]
        self.rolls[rows[less]], self.distance[rows[less]] = rolls[less], distances[less]


def _look_together(
    pair_table: PairTable, fan: Fan, posture: Posture, group: Sequence[_Least], anchors: Sequence[Ids]
) -> None:
    """Measure what can lower the least of the pairs ``group`` at the rolls of ``fan``, first where ``anchors`` are."""
    rows = np.unique(fan.rows)
    boxes = Boxes(pair_table.mechanism, posture.take(rows))
    looks = [look for least in group for look in _looks(pair_table, fan, rows, boxes, least)]
    for anchor in anchors:
        for look in looks:
            look.begin(pair_table.mechanism, posture, anchor)
        _measure_open(pair_table, looks)
    for look in looks:
        look.go_on()
    _measure_open(pair_table, looks)


def _measure_open(pair_table: PairTable, looks: Sequence[_Look]) -> None:
    """Measure as long as an entry that is looked at can lower the least."""
    open_ = list(looks)
    while True:
        wanted = [look.wanted() for look in open_]
        open_ = [look for look, entries in zip(open_, wanted, strict=True) if len(entries)]
        wanted = [entries for entries in wanted if len(entries)]
        if not open_:
            return
        jobs = [look.job(pair_table.mechanism, entries) for look, entries in zip(open_, wanted, strict=True)]
        for look, entries, job, found in zip(open_, wanted, jobs, pair_table.bench.measure(jobs), strict=True):
            look.take_in(entries, _with_swallowed(pair_table, job, found, look.meet(entries)))


def _looks(pair_table: PairTable, fan: Fan, rows: Ids, boxes: Boxes, least: _Least) -> Iterator[_Look]:
    """Every shape against every other that boxes at the postures ``rows`` do not rule out at any roll."""
    gaps = least.pair.shape_gaps(boxes)
    open_ = least.can_fall(gaps, rows) & np.isin(rows, least.near)
    for a, b in zip(*np.nonzero(open_.any(axis=-1)), strict=True):
        close = np.flatnonzero(open_[a, b])
        first, second = least.pair.shapes[0][a], least.pair.shapes[1][b]
        bounds = np.maximum(
            gaps[a, b, close], slab_between(pair_table.mechanism, boxes.posture.take(close), first, second)
        )
        kept = least.can_fall(bounds, rows[close])
        if kept.any():
            yield _Look(least, (first, second), fan, rows[close[kept]], bounds[kept])


def _with_swallowed(pair_table: PairTable, job: Job, distances: Floats, meet: Flags) -> Floats:
    """``distances`` (N,) with 0 where one of the two, whose boxes ``meet``, lies inside the other.

    From one roll to another with no contact on the way that cannot change, so rolls that are not measured need no look.
    """
    rows = np.flatnonzero(meet & (distances > 0))
    collision_models = pair_table.bench.collision_models
    inside = contained_at(collision_models[job.a], collision_models[job.b], job.a_from_b[rows], distances[rows])
    left = distances.copy()
    left[rows[inside]] = 0.0
    return left


class _Look:
    """One shape of a pair against another over a fan, as far as its rolls can lower the pair's least.

    Each of ``entries`` of the fan has a lower ``bound`` mm: that of boxes, ``gaps`` (n,) at the postures ``near`` (n,),
    what was measured, or what is left of that on the way from another roll.
    """

    def __init__(self, least: _Least, sides: tuple[RolledSide, RolledSide], fan: Fan, near: Ids, gaps: Floats) -> None:
        self._least, self._sides, self._fan, self._near, self._gaps = least, sides, fan, near, gaps
        self._entries = np.flatnonzero(np.isin(fan.rows, near))
        self._row = fan.rows[self._entries]
        self._place = np.searchsorted(near, self._row)
        self._bound = gaps[self._place]
        place = np.arange(len(self._row)) - np.searchsorted(self._row, self._row)
        self._off_middle = np.abs(2 * place + 1 - np.bincount(self._place)[self._place])
        self.go_on()

    def begin(self, mechanism: Mechanism, posture: Posture, anchor: Ids) -> None:
        """Look only at postures that are an ``anchor`` (N,) of some, and let what is measured there tell of those."""
        places = np.searchsorted(self._near, anchor[self._near])
        known = np.minimum(places, len(self._near) - 1)
        has_one = self._near[known] == anchor[self._near]
        self._origin = np.where(has_one, known, np.arange(len(self._near)))
        self._gone = self._moved(mechanism, posture)
        used = np.zeros(len(self._near), dtype=bool)
        used[self._origin[has_one]] = True
        self._asked = used[self._place]

    def go_on(self) -> None:
        """Look at all postures, each for itself."""
        self._asked = np.ones(len(self._row), dtype=bool)
        self._origin, self._gone = np.arange(len(self._near)), np.zeros(len(self._near))

    def _moved(self, mechanism: Mechanism, posture: Posture) -> Floats:
        """How far (n,) mm what one side fills at any roll, seen from the other, is from where it is at the anchor.

        Facets of round sides stand off it, on a ball that turns with it.
        """
        (a, b), at = self._sides, np.arange(len(self._near))
        if a.filled is None or b.filled is None:
            return np.where(self._origin == at, 0.0, np.inf)
        here = posture.take(self._near)
        sides = a.side, b.side
        places = RelativePlaces(a.filled.outline, b.filled.outline, job_at(mechanism, *sides, here).a_from_b)
        allowed = QUERY_TOLERANCE + 2.0 * (a.facets + b.facets) + rounding_allowance(mechanism, sides, here)
        return np.where(self._origin == at, 0.0, places.moved(at, self._origin) + 2.0 * allowed)

    def wanted(self) -> Ids:
        """Of each posture the number of the entry that may be lowest, where it can lower the least."""
        open_ = np.flatnonzero(self._asked & self._least.can_fall(self._bound, self._row))
        order = open_[np.lexsort((self._off_middle[open_], self._bound[open_], self._row[open_]))]
        return order[np.unique(self._row[order], return_index=True)[1]]

    def job(self, mechanism: Mechanism, numbers: Ids) -> Job:
        """The query that measures the entries ``numbers``."""
        a, b = self._sides
        return job_at(mechanism, a.side, b.side, self._fan.posture.take(self._entries[numbers]))

    def meet(self, numbers: Ids) -> Flags:
        """Whether boxes leave it open that the two meet at one of the entries ``numbers``, or hold each other."""
        return np.asarray(self._gaps[self._place[numbers]] <= 0)

    def take_in(self, numbers: Ids, distances: Floats) -> None:
        """Note what was measured at the entries ``numbers``, one of each posture."""
        every, entries = self._fan.rolls[self._entries], self._entries[numbers]
        known, at = np.full(len(self._near), -np.inf), np.zeros(len(self._near), dtype=np.intp)
        known[self._place[numbers]], at[self._place[numbers]] = distances, entries
        self._least.take_in(self._row[numbers], distances, self._fan.rolls[entries])
        origin = self._origin[self._place]
        turned = every - self._fan.rolls[at[origin]]
        moved = np.array([travel.of(turned) for one in self._sides for travel in one.travels]).sum(axis=0)
        self._bound = np.maximum(self._bound, known[origin] - moved - self._gone[self._place])
