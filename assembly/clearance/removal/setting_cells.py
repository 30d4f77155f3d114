"""Cells of settings of two pieces as the removal needs them: where b stands seen from a, and how far it can move."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assembly.clearance.proof.cells import Cells
from assembly.clearance.proof.pair_search import PieceSearch
from assembly.clearance.removal.covering_balls import UnsettledError
from assembly.geometry.mesh import Flags, Floats, Ids
from assembly.geometry.rotations import inverse_rigid
from assembly.kinematics.array_stacks import stacked
from assembly.time_limit import check_time

SMALLEST = 3.0**-9
"""Share of a drive's range below which no cell is cut."""
MOST_OPEN = 6000
"""Cells that are made until the motion is bounded in all of them."""


@dataclass(frozen=True, slots=True, eq=False)
class PlacedCells:
    """N cells ``ids``: ``b_from_a`` (N, 4, 4) takes drawn places of the one piece to those of the other at the centres.

    ``travel`` (N,) mm: no point moves farther against the other in the cell, the solver's miss and rounding counted
    in; infinite where nothing is proven. ``shown`` (N,): the centre can be assembled, and is allowed.
    """

    ids: Ids
    b_from_a: Floats
    travel: Floats
    shown: Flags

    def __len__(self) -> int:
        return len(self.ids)


class SettingCells:
    """All cells of settings in which a piece may come near another, cut as is asked for; ``placed`` has them all."""

    def __init__(self, piece: PieceSearch, cells: Cells, wanted: float) -> None:
        """``wanted`` mm: cells of the piece's tiling that are proven to keep it are left out."""
        self.piece, self.cells = piece, cells
        if len(cells.unresolved):
            raise UnsettledError("in part of the range the motion of the two could not be proven")
        self.placed = self._placed(piece.tiling.ids[piece.tiling.figures.lower < wanted])
        self._settle()

    def _settle(self) -> None:
        """Cut the cells in which nothing is known of the motion until something is."""
        open_ = np.arange(len(self.placed))
        while len(open_ := open_[~np.isfinite(self.placed.travel[open_])]):
            check_time()
            if len(self.placed) > MOST_OPEN or not self.may_be_cut(open_).all():
                raise UnsettledError("the range would have to be cut too finely to tell where the two come near")
            open_, _ = self.cut(open_)

    def may_be_cut(self, rows: Ids) -> Flags:
        """Whether (n,) cells are wide enough to be cut."""
        return self.cells.may_be_cut(self.placed.ids[rows], SMALLEST)

    def cut(self, rows: Ids) -> tuple[Ids, Ids]:
        """Rows of the cells that take the places of ``rows``, and which of ``rows`` (by number) each was cut from."""
        ids = self.placed.ids[rows]
        split = self.cells.split(ids, self.piece.axes(self.cells, ids))
        parents = np.repeat(np.arange(len(rows)), split.shape[1])
        kept = np.flatnonzero(self.cells.some_allowed(split.reshape(-1)))
        first = len(self.placed)
        self.placed = stacked(self.placed, self._placed(split.reshape(-1)[kept]))
        return np.arange(first, len(self.placed)), parents[kept]

    def _placed(self, ids: Ids) -> PlacedCells:
        motion = self.cells.motion_of(ids, self.piece.bodies)
        world_from_a, world_from_b = (motion.world_from_rest(body) for body in self.piece.bodies)
        travel = self.piece.displacement(motion).whole + self.piece.rounding(motion)
        travel = np.where(self.cells.too_wide(ids) | ~motion.motion.certified, np.inf, travel)
        shown = self.cells.reached[ids] & self.cells.centre_allowed(ids)
        return PlacedCells(ids, inverse_rigid(world_from_b) @ world_from_a, travel, shown)
