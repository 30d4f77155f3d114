"""The first look of a piece at all cells of the range: few distances settle many cells.

A distance measured at one cell's centre holds for another cell too, less how far the pieces moved against each other
from the one centre to the other, which the solved postures tell exactly, and less the travel inside the other cell. So
cells are measured thinly at first, and ever more closely only where that leaves doubt.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from assembly.clearance.cells import Cells
from assembly.clearance.facing import Directions
from assembly.clearance.lower_bound import Bounds, Method, Places
from assembly.clearance.queries import Job
from assembly.clearance.search import PieceSearch
from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import inverse_rigid
from assembly.motion.travel import Displacement

STRIDES = (27, 9, 3, 1)
"""Of the cells still in doubt one in so many is measured, round after round."""

Row = NDArray[np.intp]


class Opening:
    """One piece's cells ``ids`` (N,), its ``bounds`` in them, and what is needed to sharpen those below ``target``."""

    def __init__(self, piece: PieceSearch, cells: Cells, target: float) -> None:
        ids, bounds = piece.tiling
        self.piece, self.ids, self.target = piece, ids, target
        self.bounds = bounds
        self._low = np.flatnonzero(self.bounds.lower < target)
        if not len(self._low):
            return
        motion, mechanism = cells.motion.take(ids[self._low]), cells.mechanism
        self._far, self._rounding = piece.displacement(mechanism, motion), piece.rounding(mechanism, motion)
        self._numbers = cells.centre_of[ids[self._low]]
        world_from_a = mechanism.world_from_rest(motion.posture, piece.a.part)
        world_from_b = mechanism.world_from_rest(motion.posture, piece.b.part)
        self._places = Places(piece.a.outline, piece.b.outline, inverse_rigid(world_from_a) @ world_from_b)
        self._measured = np.zeros(len(self._low), dtype=bool)
        self._reached = np.full(len(self._low), -np.inf)
        """The best bound from a distance measured here or at another cell, which is its origin."""
        self._cells, self._origins, self._directions = cells, self._low * 0, np.zeros((len(self._low), 3))
        known = np.flatnonzero([number in piece.known for number in self._numbers.tolist()])
        self._measured[known] = True
        self._use(known, piece.found_at(cells, ids[self._low[known]]))

    def ask(self, stride: int) -> tuple[Row, Job]:
        """Which of the cells in doubt to measure now, and the job for it."""
        doubt = np.zeros(0, dtype=np.intp)
        if len(self._low):
            doubt = self._doubt()
            doubt = doubt[~self._measured[doubt] & np.isfinite(self._far.motion[doubt])]
        rows = doubt[stride // 2 :: stride] if len(doubt) >= stride else doubt[: 1 if stride > 1 else None]
        places = self._places.a_from_b[rows] if len(rows) else np.zeros((0, 4, 4))
        return rows, Job(self.piece.a.solid, self.piece.b.solid, places)

    def take_in(self, rows: Row, found: Floats) -> None:
        """Use distances and directions (n, 4) found at the centres of ``rows`` for every cell in doubt."""
        if not len(rows):
            return
        self._measured[rows] = True
        self.piece.known.update(zip(self._numbers[rows].tolist(), found, strict=True))
        self._use(rows, found)
        self.piece.search.found_in(self._cells, found[:, 0], self.ids[self._low[rows]])

    def _use(self, rows: Row, found: Floats) -> None:
        for row, (distance, *direction) in zip(rows.tolist(), found.tolist(), strict=True):
            doubt = self._doubt()
            bound = self._carried(doubt, row, distance)
            sharper = bound.lower > self._reached[doubt]
            self._reached[doubt[sharper]] = bound.lower[sharper]
            self._origins[doubt[sharper]], self._directions[doubt[sharper]] = row, direction
            self.bounds = self.bounds.raised(self._low[doubt], bound)
        doubt = self._doubt()
        directions = Directions(self.ids[self._low[self._origins[doubt]]], self._directions[doubt])
        at = self._low[doubt]
        self.bounds = self.bounds.raised(at, self.piece.facing(self._cells, self.ids[at], directions, self.target))

    def _carried(self, rows: Row, origin: int, distance: float) -> Bounds:
        """Bounds (n,) in the cells ``rows`` from the ``distance`` in mm at the centre of ``origin``."""
        moved = self._places.moved(rows, np.full(len(rows), origin))
        far = self._far.take(rows).plus(Displacement(moved, np.zeros(len(rows))))
        method = np.where(rows == origin, Method.CENTRE, Method.CARRIED).astype(np.int8)
        return self.piece.bounds(method, np.full(len(rows), distance), far, self._rounding[rows])

    def _doubt(self) -> Row:
        return np.flatnonzero(self.bounds.lower[self._low] < self.target)
