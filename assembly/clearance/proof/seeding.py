"""The first look of a piece at all cells of the range: few distances settle many cells.

A distance measured at one cell's centre holds for another cell too, less how far the pieces moved against each other
from the one centre to the other, which the solved postures tell exactly, and less the travel inside the other cell. So
cells are measured thinly at first, and ever more closely only where that leaves doubt.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assembly.clearance.narrow_phase.queries import Job
from assembly.clearance.proof.cells import Cells
from assembly.clearance.proof.facing import Directions
from assembly.clearance.proof.lower_bound import Method, RelativePlaces, lower_bound
from assembly.clearance.proof.pair_search import PieceSearch
from assembly.geometry.mesh import Flags, Floats, Ids
from assembly.geometry.rotations import inverse_rigid
from assembly.kinematics.travel import Displacement
from assembly.time_limit import check_time

STRIDES = (27, 9, 3, 1)
"""Of the cells still in doubt one in so many is measured, round after round."""

MOVES_AT_ONCE = 2048
"""Cells in doubt times measured ones that are held against each other at once: few, so that cells fall out soon."""


@dataclass(frozen=True, slots=True, eq=False)
class Seeding:
    """One piece's rows ``low`` (n,) of its tiling with bounds below ``target``, and what is needed to raise them.

    ``far`` and ``rounding``: what a distance at a cell's centre loses in it; ``places``: how the two stand there.
    Filled as cells are ``measured``: the best bound ``reached`` from a distance, the row where that was measured
    (``origins``) and in which ``directions`` (n, 3).
    """

    piece: PieceSearch
    cells: Cells
    target: float
    low: Ids
    far: Displacement
    rounding: Floats
    places: RelativePlaces
    measured: Flags
    reached: Floats
    origins: Ids
    directions: Floats

    def ask(self, stride: int) -> tuple[Ids, Job]:
        """Which of the cells in doubt to measure now, and the job for it."""
        doubt = self._doubt()
        doubt = doubt[~self.measured[doubt] & np.isfinite(self.far.motion[doubt])]
        rows = doubt[stride // 2 :: stride] if len(doubt) >= stride else doubt[: 1 if stride > 1 else None]
        return rows, Job(self.piece.a.solid, self.piece.b.solid, self.places.a_from_b[rows])

    def take_in(self, rows: Ids, found: Floats) -> None:
        """Use distances and directions (n, 4) found at the centres of ``rows`` for every cell in doubt."""
        piece, ids = self.piece, self.piece.tiling.ids[self.low]
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
        piece.raise_bounds(self.low[doubt], piece.facing(self.cells, ids[doubt], directions, self.target))

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
        self.piece.raise_bounds(self.low[rows], bounds)

    def _doubt(self) -> Ids:
        return np.flatnonzero(self.piece.tiling.figures.lower[self.low] < self.target)


def seeding(piece: PieceSearch, cells: Cells, target: float) -> Seeding:
    """The first look of ``piece`` at its cells; what it has measured already is used at once."""
    low = np.flatnonzero(piece.tiling.figures.lower < target)
    ids, count = piece.tiling.ids[low], len(low)
    motion = cells.motion_of(ids, piece.bodies)
    world_from_a, world_from_b = (motion.world_from_rest(body) for body in piece.bodies)
    places = RelativePlaces(piece.a.outline, piece.b.outline, inverse_rigid(world_from_a) @ world_from_b)
    far, rounding = piece.displacement(motion), piece.rounding(motion)
    blank = np.zeros(count, dtype=bool), np.full(count, -np.inf), np.zeros(count, dtype=np.intp), np.zeros((count, 3))
    made = Seeding(piece, cells, target, low, far, rounding, places, *blank)
    known = np.flatnonzero([number in piece.known for number in cells.centre_of[ids].tolist()])
    if len(known):
        made.take_in(known, piece.found_at(cells, ids[known]))
    return made
