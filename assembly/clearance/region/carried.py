"""What a distance measured at one setting tells of the same two solids at another, both postures being known.

It shrinks by no more than the farthest point of the one moves, seen from the other. And planes square to the direction
in which the two were nearest still keep their hulls as far apart as what lies between them along it: parts that slide
or turn past each other come no nearer, however far they go.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from assembly.clearance.narrow_phase.queries import Job, job_at
from assembly.clearance.proof.lower_bound import Method, RelativePlaces, lower_bound, rounding_allowance
from assembly.clearance.proof.pair_search import PieceSearch
from assembly.clearance.proof.pair_table import PairTable
from assembly.geometry.mesh import Flags, Floats, Ids
from assembly.kinematics.rows import Posture
from assembly.kinematics.travel import STILL, Displacement
from assembly.time_limit import check_time

STRIDES = (27, 9, 3, 1)
"""Settings in a row are measured at every 27th, then at every ninth, and so on, as far as needed."""
CORNERS_AT_ONCE = 200_000
"""Corners of hulls times settings worked on together; keeps the working memory near 5 MB."""


def bound_by_travel(piece: PieceSearch, a_from_b: Floats, distances: Floats, origins: Ids, rounding: Floats) -> Floats:
    """What (N,) mm facets are apart at least at N places (N, 4, 4), by ``distances`` (N,) mm at those of ``origins``.

    nan where the distance is not known. Surface errors are not taken off.
    """
    places = RelativePlaces(piece.a.outline, piece.b.outline, a_from_b)
    moved = places.moved(np.arange(len(a_from_b)), origins)
    return lower_bound(Method.CARRIED, distances, Displacement(moved, np.zeros(len(moved))), 0.0, rounding).lower


def bound_by_planes(piece: PieceSearch, a_from_b: Floats, ways: Floats, rounding: Floats) -> Floats:
    """What (n,) mm facets are apart at least at n places (n, 4, 4), by planes square to ``ways`` (n, 3).

    The ways are unit directions from the first solid to the second, as the first sees them. nan where they are.
    """
    first, second = piece.a.hull.points, piece.b.hull.points
    step = max(1, CORNERS_AT_ONCE // (len(first) + len(second)))
    gaps = np.empty(len(ways))
    for start in range(0, len(ways), step):
        rows = slice(start, start + step)
        place, way = a_from_b[rows], ways[rows]
        seen = np.einsum("nij,ni->nj", place[:, :3, :3], way)
        near = (seen @ second.T).min(axis=1) + np.einsum("ni,ni->n", place[:, :3, 3], way)
        gaps[rows] = near - (way @ first.T).max(axis=1)
    return lower_bound(Method.FACING, gaps, STILL, 0.0, rounding).lower


@dataclass(frozen=True, slots=True, eq=False)
class BelowQuery:
    """Two solids asked for at the postures ``rows`` (n,), near each other in their order, as far as ``below`` mm.

    ``bound`` (n,) mm: what is known to be between them.
    """

    piece: PieceSearch
    rows: Ids
    below: float
    bound: Floats


def distances_below(pair_table: PairTable, posture: Posture, asked: Sequence[BelowQuery]) -> list[Floats]:
    """Distances (n,) mm for each query; infinite where they are no less than what it is asked for."""
    looks = [_look(pair_table, posture, one) for one in asked]
    for stride in STRIDES:
        open_ = [look for look in looks if look.is_open().any()]
        anchors = [in_strides(len(look.asked.rows), stride) for look in open_]
        wanted = [look.wanted(anchor) for look, anchor in zip(open_, anchors, strict=True)]
        jobs = [look.job(rows) for look, rows in zip(open_, wanted, strict=True)]
        found = pair_table.bench.look(jobs)
        for look, rows, seen, anchor in zip(open_, wanted, found, anchors, strict=True):
            check_time()
            look.known[rows] = seen
            look.carry(anchor)
    return [np.where(look.known[:, 0] < look.asked.below, look.known[:, 0], np.inf) for look in looks]


def in_strides(count: int, stride: int) -> Ids:
    """For each of ``count`` things in a row the number of one near it: the middle one of ``stride`` each."""
    start = np.arange(count) // stride * stride
    return np.asarray((start + np.minimum(start + stride, count) - 1) // 2)


@dataclass(slots=True, eq=False)
class _Look:
    """What is known of a query: as measured, distance and direction ``known`` (n, 4), else nan; ``bound`` (n,) mm."""

    asked: BelowQuery
    place: Job
    rounding: Floats
    bound: Floats
    known: Floats = field(init=False)

    def __post_init__(self) -> None:
        self.known = np.full((len(self.asked.rows), 4), np.nan)

    def is_open(self) -> Flags:
        """Where (n,) it may be below what is asked for, and was not measured."""
        below = (self.bound < self.asked.below) | (self.bound <= 0)
        return np.asarray(below & np.isnan(self.known[:, 0]))

    def wanted(self, anchor: Ids) -> Ids:
        """Which of the settings ``anchor`` (n,) are to be measured for those that are open."""
        rows = np.unique(anchor[self.is_open()])
        return np.asarray(rows[np.isnan(self.known[rows, 0])])

    def job(self, rows: Ids) -> Job:
        """The query that measures at ``rows``."""
        return Job(self.place.a, self.place.b, self.place.a_from_b[rows])

    def carry(self, anchor: Ids) -> None:
        """Take what was measured at each setting's ``anchor`` (n,) to those that are open."""
        piece, places = self.asked.piece, self.place.a_from_b
        sure = bound_by_travel(piece, places, self.known[anchor, 0], anchor, self.rounding)
        self.bound = np.fmax(self.bound, sure)
        rows = np.flatnonzero(self.is_open())
        gaps = bound_by_planes(piece, places[rows], self.known[anchor[rows], 1:], self.rounding[rows])
        self.bound[rows] = np.fmax(self.bound[rows], gaps)


def _look(pair_table: PairTable, posture: Posture, asked: BelowQuery) -> _Look:
    own, sides = posture.take(asked.rows), (asked.piece.a, asked.piece.b)
    rounding = rounding_allowance(pair_table.mechanism, sides, own)
    return _Look(asked, job_at(pair_table.mechanism, *sides, own), rounding, asked.bound)
