"""The first question about a piece: a look at all cells of the range, in which few distances settle many cells.

A distance measured at one cell's centre holds for another cell too, less how far the pieces moved against each other
from the one centre to the other, which the solved postures tell exactly, and less the travel inside the other cell. So
cells are measured thinly at first, and ever more closely only where that leaves doubt.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assembly.clearance.narrow_phase.queries import Job
from assembly.clearance.proof.cells import Cells
from assembly.clearance.proof.facing import Directions, facing_bounds
from assembly.clearance.proof.lower_bound import Bounds, Method, RelativePlaces, lower_bound
from assembly.clearance.proof.pair_search import PieceSearch
from assembly.clearance.proof.piece_questions import PieceQuestion
from assembly.clearance.proof.refiner import Children
from assembly.geometry.mesh import Flags, Floats, Ids
from assembly.geometry.rotations import inverse_rigid
from assembly.kinematics.travel import Displacement
from assembly.time_limit import check_time

KNOWN = 0
STRIDES = (KNOWN, 27, 9, 3, 1)
"""First what is known of cells is used; then of those still in doubt one in so many is measured, round after round."""

MOVES_AT_ONCE = 2048
"""Cells in doubt times measured ones that are held against each other at once: few, so that cells fall out soon."""


@dataclass(slots=True, eq=False)
class Seeding(PieceQuestion):
    """Which of a piece's rows ``low`` (n,) have bounds below ``target``: they are looked at again, but not cut.

    ``far`` and ``rounding``: what a distance at a cell's centre loses in it; ``places``: how the two stand there.
    The rest is of these rows, as far as cells are ``measured``: their ``bounds``, the best bound ``reached`` from a
    distance, the row where that was measured (``origins``) and in which ``directions`` (n, 3).
    """

    target: float
    low: Ids
    far: Displacement
    rounding: Floats
    places: RelativePlaces
    bounds: Bounds
    measured: Flags
    reached: Floats
    origins: Ids
    directions: Floats
    rounds: int = 0

    def to_cut(self) -> Ids:
        """All rows, as long as any is in doubt."""
        return self.low if self.rounds < len(STRIDES) and len(self._doubt()) else self.low[:0]

    def axes(self, rows: Ids) -> None:
        """They are looked at as they are."""

    def look(self, children: Children[Bounds]) -> SeedingLook:  # noqa: ARG002 - always of all rows
        """What is known, or the cells that are measured in this round."""
        stride, ids = STRIDES[self.rounds], self.tiling.ids[self.low]
        self.rounds += 1
        if stride == KNOWN:
            known = np.flatnonzero([number in self.piece.known for number in self.cells.centre_of[ids].tolist()])
            return SeedingLook(self, known[:0], self._job(known[:0]), known)
        rows = self._asked(stride)
        return SeedingLook(self, rows, self._job(rows), rows[:0])

    def _asked(self, stride: int) -> Ids:
        """Which of the cells in doubt to measure now."""
        doubt = self._doubt()
        doubt = doubt[~self.measured[doubt] & np.isfinite(self.far.motion[doubt])]
        return doubt[stride // 2 :: stride] if len(doubt) >= stride else doubt[: 1 if stride > 1 else None]

    def _job(self, rows: Ids) -> Job:
        return Job(self.piece.a.solid, self.piece.b.solid, self.places.a_from_b[rows])

    def take_in(self, rows: Ids, found: Floats) -> None:
        """Use distances and directions (n, 4) found at the centres of ``rows`` for every cell in doubt."""
        piece, ids = self.piece, self.tiling.ids[self.low]
        self.measured[rows] = True
        piece.known.update(zip(self.cells.centre_of[ids[rows]].tolist(), found, strict=True))
        self._raise(rows, rows, found, Displacement(np.zeros(len(rows)), np.zeros(len(rows))))
        start = 0
        while start < len(rows) and len(others := self._others()):
            check_time()
            end = start + max(1, MOVES_AT_ONCE // len(others))
            self._carry(others, rows[start:end], found[start:end])
            start = end
        doubt = self._doubt()
        directions = Directions(ids[self.origins[doubt]], self.directions[doubt])
        facing = facing_bounds(*piece.facing, self.cells, ids[doubt], directions, self.target)
        self.bounds = self.bounds.raised(doubt, facing)

    def _others(self) -> Ids:
        """Cells in doubt that were not measured: carried to one that was, a distance proves no more than its own."""
        doubt = self._doubt()
        return doubt[~self.measured[doubt]]

    def _carry(self, to: Ids, rows: Ids, found: Floats) -> None:
        """Bounds for cells ``to`` (n,), each from the first of ``rows`` (k,) that settles it or from the best."""
        moved = self.places.moved(np.tile(to, len(rows)), np.repeat(rows, len(to))).reshape(len(rows), -1)
        taken_off = self.far.take(to).whole + self.rounding[to] + self.piece.errors
        left = found[:, :1] - moved - taken_off
        settles = left >= self.target
        best = np.where(settles.any(axis=0), settles.argmax(axis=0), left.argmax(axis=0))
        away = Displacement(moved[best, np.arange(len(to))], np.zeros(len(to)))
        self._raise(to, rows[best], found[best], away)

    def _raise(self, rows: Ids, origins: Ids, found: Floats, away: Displacement) -> None:
        """Bounds for ``rows`` (n,) from what was ``found`` (n, 4) at ``origins`` (n,), ``away`` from there."""
        method = np.where(rows == origins, Method.CENTRE, Method.CARRIED).astype(np.int8)
        far, errors = self.far.take(rows).plus(away), self.piece.surface_error
        bounds = lower_bound(method, found[:, 0], far, errors, self.rounding[rows])
        higher = bounds.lower > self.reached[rows]
        sharper = rows[higher]
        self.reached[sharper], self.origins[sharper] = bounds.lower[higher], origins[higher]
        self.directions[sharper] = found[higher, 1:]
        self.bounds = self.bounds.raised(rows, bounds)

    def _doubt(self) -> Ids:
        return np.flatnonzero(self.bounds.lower < self.target)


@dataclass(frozen=True, slots=True, eq=False)
class SeedingLook:
    """One round of a seeding: the ``measured`` rows and their job, or those that are ``known``."""

    seeding: Seeding
    measured: Ids
    job: Job
    known: Ids

    def figures(self, found: Floats) -> Bounds:
        """The bounds of all rows, sharpened by what was ``found`` (n, 4) in the measured ones, or is known."""
        seeding, ids = self.seeding, self.seeding.tiling.ids[self.seeding.low]
        if len(self.measured):
            seeding.take_in(self.measured, found)
            seeding.piece.search.found_in(seeding.cells, found[:, 0], ids[self.measured])
        if len(self.known):
            seeding.take_in(self.known, seeding.piece.found_at(seeding.cells, ids[self.known]))
        return seeding.bounds


def seeding(piece: PieceSearch, cells: Cells, target: float) -> Seeding:
    """The first look of ``piece`` at its cells."""
    low = np.flatnonzero(piece.tiling.figures.lower < target)
    ids, count = piece.tiling.ids[low], len(low)
    motion = cells.motion_of(ids, piece.bodies)
    world_from_a, world_from_b = (motion.world_from_rest(body) for body in piece.bodies)
    places = RelativePlaces(piece.a.outline, piece.b.outline, inverse_rigid(world_from_a) @ world_from_b)
    far, rounding = piece.displacement(motion), piece.rounding(motion)
    blank = np.zeros(count, dtype=bool), np.full(count, -np.inf), np.zeros(count, dtype=np.intp), np.zeros((count, 3))
    return Seeding(piece, cells, target, low, far, rounding, places, piece.tiling.figures.take(low), *blank)
