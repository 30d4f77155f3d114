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
from assembly.clearance.queries import Job
from assembly.clearance.search import PieceSearch
from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import inverse_rigid

STRIDES = (27, 9, 3, 1)
"""Of the cells still in doubt one in so many is measured, round after round."""

Row = NDArray[np.intp]


class Opening:
    """One piece's cells ``ids`` (N,), its ``bounds`` in them, and what is needed to sharpen those below ``target``."""

    def __init__(self, piece: PieceSearch, cells: Cells, target: float) -> None:
        ids, bounds = piece.tiling
        self.piece, self.ids, self.target = piece, ids, target
        self.bounds = bounds.copy()
        self._low = np.flatnonzero(self.bounds < target)
        if not len(self._low):
            return
        motion = cells.motion.take(ids[self._low])
        self._far = piece.travel(motion, cells.mechanism.bodies.centres)
        self._settings, self._numbers = motion.settings, cells.centre_of[ids[self._low]]
        world_from_a = cells.mechanism.world_from_rest(motion.posture, piece.a.part)
        world_from_b = cells.mechanism.world_from_rest(motion.posture, piece.b.part)
        self._a_from_b = inverse_rigid(world_from_a) @ world_from_b
        outline = piece.b.outline
        turned = outline.points @ self._a_from_b[:, :3, :3].transpose(0, 2, 1)
        self._points = turned + self._a_from_b[:, None, :3, 3]
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
            doubt = doubt[~self._measured[doubt] & np.isfinite(self._far[doubt])]
        rows = doubt[stride // 2 :: stride] if len(doubt) >= stride else doubt[: 1 if stride > 1 else None]
        places = self._a_from_b[rows] if len(rows) else np.zeros((0, 4, 4))
        return rows, Job(self.piece.a.solid, self.piece.b.solid, places)

    def take_in(self, rows: Row, found: Floats) -> None:
        """Use distances and directions (n, 4) found at the centres of ``rows`` for every cell in doubt."""
        if not len(rows):
            return
        self._measured[rows] = True
        self.piece.known.update(zip(self._numbers[rows].tolist(), found, strict=True))
        self._use(rows, found)
        best = int(np.argmin(found[:, 0]))
        self.piece.search.found(float(found[best, 0]), self._settings[rows[best]])

    def _use(self, rows: Row, found: Floats) -> None:
        for row, (distance, *direction) in zip(rows.tolist(), found.tolist(), strict=True):
            doubt = self._doubt()
            bound = distance - self._moved(doubt, row) - self._far[doubt] - self.piece.errors
            sharper = bound > self._reached[doubt]
            self._reached[doubt[sharper]] = bound[sharper]
            self._origins[doubt[sharper]], self._directions[doubt[sharper]] = row, direction
            at = self._low[doubt]
            self.bounds[at] = np.maximum(self.bounds[at], bound)
        doubt = self._doubt()
        directions = Directions(self.ids[self._low[self._origins[doubt]]], self._directions[doubt])
        at = self._low[doubt]
        facing = self.piece.facing(self._cells, self.ids[at], directions, self.target)
        self.bounds[at] = np.maximum(self.bounds[at], facing)

    def _doubt(self) -> Row:
        return np.flatnonzero(self.bounds[self._low] < self.target)

    def _moved(self, rows: Row, origin: int) -> Floats:
        """How far (n,) mm any point of b moved, seen from a, from the centre of ``origin`` to those of ``rows``."""
        apart = np.linalg.norm(self._points[rows] - self._points[origin], axis=2)
        turned = self._a_from_b[rows, :3, :3] - self._a_from_b[origin, :3, :3]
        spread = np.linalg.norm(turned, axis=(1, 2))[:, None] * self.piece.b.outline.radii
        return np.asarray((apart + spread).max(axis=1, initial=0.0))
