"""The smallest distance and room of all pairs at a lattice of settings, with as few measurements as can be.

What was measured at one setting is carried to others (``carried``), so that shapes that are far apart at every ninth
setting need no measurement at the others.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from assembly.clearance.narrow_phase.queries import Job
from assembly.clearance.proof.lower_bound import rounding_allowance
from assembly.clearance.proof.pair_search import PieceSearch
from assembly.clearance.proof.pair_table import NearPiece, PairTable, batches
from assembly.clearance.proof.rolled_least import RolledQuery, least_over_rolls
from assembly.clearance.proof.solid_table import Boxes
from assembly.clearance.region.carried import bound_by_planes, bound_by_travel
from assembly.geometry.mesh import Flags, Floats, Ids
from assembly.kinematics.mechanism import Solved
from assembly.time_limit import check_time

PAIRS_TOGETHER, PIECES_TOGETHER = 8, 24
"""How many are measured in one go, so that all cores have work; few, so that what they find can spare the others."""
PLACES_KEPT = 200_000
"""Places of parts seen from others, at all settings together: 25 MB."""
STRIDES = (9, 3, 1)
"""Shapes are measured at every ninth setting of each drive, then at every third, then at all, as far as needed."""


class LatticeDistances:
    """Figures at the N settings of a whole lattice. Pairs are taken in the order of their nearness, then shapes.

    Pairs that rolls move are measured at all rolls that the ends of rods allow. Figures above ``ceiling`` mm are of no
    interest: where there are no lower ones, ``found`` is the ceiling. ``settled``: of the figures found so far (2, N),
    at which settings nothing more is wanted; then any figure below the ceiling will do. ``places`` (N, k): where in a
    lattice each of the settings is, if they are not one of the drives. ``swept`` (N,): at which settings that holds
    which the table has as proven; by default at all.

    ``found`` (2, N) mm: the smallest distance and room, infinite if a setting is not reached; ``owner`` (2, N):
    numbers of the pairs they belong to, -1 where none. By the numbers of their solids: ``known`` (N, 4), distance in
    mm and direction as measured, else nan, and ``bounds`` (N,) mm, what none is less than.
    """

    def __init__(
        self,
        pair_table: PairTable,
        solved: Solved,
        ceiling: float = np.inf,
        settled: Callable[[Floats], Flags] | None = None,
        places: Floats | None = None,
        swept: Flags | None = None,
    ) -> None:
        self.pair_table, self.solved, self._settled = pair_table, solved, settled
        self._places = solved.settings if places is None else places
        self._swept = np.ones(len(solved.settings), dtype=bool) if swept is None else swept
        self.found = np.full((2, len(solved.settings)), ceiling)
        self.owner = np.full(self.found.shape, -1, dtype=np.intp)
        self._ceiling = self.found.copy()
        """(2, N) mm: what the figures cannot be above, by what was found nearby."""
        self.known: dict[tuple[int, int], Floats] = {}
        self.bounds: dict[tuple[int, int], Floats] = {}
        self._seen: dict[tuple[str, str], Floats] = {}

    def measure(self, first: int = 0) -> None:
        """Measure as few shapes at as few settings as can be; only of pairs from number ``first`` on."""
        pair_table, solved = self.pair_table, self.solved
        boxes = Boxes(pair_table.mechanism, solved.posture)
        wholes = [
            NearPiece(number, whole, np.maximum(boxes.gaps(whole), self._proven(number)))
            for number, whole in pair_table.still
            if number >= first
        ]
        anchors = [_anchors(self._places, stride) for stride in STRIDES]
        for some in batches(sorted(wholes, key=_nearness), PAIRS_TOGETHER):
            pieces = [
                NearPiece(one.number, piece, np.maximum(one.bound, boxes.gaps(piece)))
                for one in self._narrowed(some, anchors[0])
                for piece in pair_table.pieces(one.number)
            ]
            for anchor in anchors:
                pieces = self._narrowed(pieces, anchor)
        self._take_in_rolling(first)

    def measure_more(self, pair_table: PairTable) -> None:
        """Measure what ``pair_table`` has beyond the pairs of the one before, which it begins with."""
        first, self.pair_table = len(self.pair_table.wholes), pair_table
        self.measure(first)

    def _take_in_rolling(self, first: int) -> None:
        """Measure the pairs that rolls move where boxes do not show that they have more than was found."""
        pair_table, anchors = self.pair_table, [_anchors(self._places, stride) for stride in STRIDES[:-1]]
        for some in batches([one for one in pair_table.rolling if one[0] >= first], PAIRS_TOGETHER):
            asked = [
                RolledQuery(search, rows, self._interest(number)[rows], self._settled is not None)
                for number, search in some
                for rows in (np.flatnonzero(self._wanted() & (self._interest(number) > self._proven(number))),)
            ]
            found = least_over_rolls(pair_table, self.solved.posture, asked, anchors)
            for (number, _), one, least in zip(some, asked, found, strict=True):
                figures, rows = pair_table.figures(least.distance, number), one.rows
                less = figures < self.found[:, rows]
                self.owner[:, rows] = np.where(less, number, self.owner[:, rows])
                self.found[:, rows] = np.minimum(self.found[:, rows], figures)

    def _proven(self, number: int) -> Floats:
        """What (N,) mm a sweep has proven of pair ``number`` at each setting, -inf for nothing."""
        return np.where(self._swept, self.pair_table.proven[number], -np.inf)

    def _interest(self, number: int) -> Floats:
        """Distances (N,) mm below which pair ``number`` has less than what was found."""
        return np.asarray((self.found + self.pair_table.taken_off[:, number, None]).max(axis=0))

    def _narrowed(self, asked: Sequence[NearPiece], anchor: Ids) -> list[NearPiece]:
        """Those of ``asked`` that may still have less than what was found, once measured at the settings ``anchor``."""
        left = []
        for some in batches(sorted(asked, key=_nearness), PIECES_TOGETHER):
            near = [one for one in some if self._open(one).any()]
            self._measure(near, anchor)
            for one in near:
                check_time()
                left.append(self._carried(one, anchor))
        return [one for one in left if self._open(one).any()]

    def _carried(self, one: NearPiece, anchor: Ids) -> NearPiece:
        """``one`` with what was measured at each setting's ``anchor`` (N,) taken to it, and to the ceiling.

        Figures at the centres are those of the facets: surface errors come off in the cells.
        """
        known, places = self.known[one.solids][anchor], self._a_from_b(one.piece)
        rounding = rounding_allowance(self.pair_table.mechanism, (one.piece.a, one.piece.b), self.solved.posture)
        sure = bound_by_travel(one.piece, places, known[:, 0], anchor, rounding)
        most = known[:, 0] + (known[:, 0] - sure)
        self._ceiling = np.fmin(self._ceiling, self.pair_table.figures(most, one.number))
        near = replace(one, bound=np.fmax(one.bound, sure))
        rows = np.flatnonzero(self._open(near) & ~np.isnan(known[:, 0]))
        near.bound[rows] = np.fmax(
            near.bound[rows], bound_by_planes(one.piece, places[rows], known[rows, 1:], rounding[rows])
        )
        self.bounds[one.solids] = near.bound
        return near

    def _open(self, one: NearPiece) -> Flags:
        """Where (N,) a pair could still have less than what was found."""
        less = self.pair_table.figures(one.bound, one.number) < np.minimum(self.found, self._ceiling)
        return np.asarray(self._wanted() & less.any(axis=0))

    def _wanted(self) -> Flags:
        """At which settings (N,) anything is still wanted."""
        reached = self.solved.reached
        return reached if self._settled is None else reached & ~self._settled(self.found)

    def _measure(self, near: Sequence[NearPiece], anchor: Ids) -> None:
        """Measure at the anchors of the settings for which it is still open."""
        rows, jobs = [], []
        for one in near:
            known = self.known.setdefault(one.solids, np.full((self.found.shape[1], 4), np.nan))
            row = np.unique(anchor[self._open(one)])
            rows.append(row[np.isnan(known[row, 0]) & self.solved.reached[row]])
            jobs.append(Job(*one.solids, self._a_from_b(one.piece)[rows[-1]]))
        for one, row, looked in zip(near, rows, self.pair_table.bench.look(jobs), strict=True):
            self.known[one.solids][row] = looked
            distances = looked[:, 0]
            figures = self.pair_table.figures(distances, one.number)
            less = figures < self.found[:, row]
            self.owner[:, row] = np.where(less, one.number, self.owner[:, row])
            self.found[:, row] = np.minimum(self.found[:, row], figures)

    def _a_from_b(self, piece: PieceSearch) -> Floats:
        """Where (N, 4, 4) the second side of a piece is seen from the first; shapes of the same parts share it."""
        parts = piece.a.part, piece.b.part
        if parts not in self._seen:
            if len(self._seen) * len(self.solved.settings) > PLACES_KEPT:
                self._seen.clear()
            self._seen[parts] = self.pair_table.job(piece, self.solved.posture).a_from_b
        return self._seen[parts]


def measured_lattice(pair_table: PairTable, solved: Solved, swept: Flags | None = None) -> LatticeDistances:
    """The figures at the settings ``solved``, a whole lattice."""
    centres = LatticeDistances(pair_table, solved, swept=swept)
    centres.measure()
    return centres


def _nearness(one: NearPiece) -> float:
    return float(one.bound.mean())


def _anchors(settings: Floats, stride: int) -> Ids:
    """For each of a whole lattice of settings the number (N,) of a setting near it: one in ``stride`` of each drive."""
    steps = [np.unique(values, return_inverse=True)[1].reshape(-1) for values in settings.T]
    counts = [int(step.max(initial=0)) + 1 for step in steps]
    near = [
        np.minimum(step // stride * stride + stride // 2, count - 1) for step, count in zip(steps, counts, strict=True)
    ]
    numbers = np.empty(counts, dtype=np.intp)
    numbers[tuple(steps)] = np.arange(len(settings))
    return np.asarray(numbers[tuple(near)])
