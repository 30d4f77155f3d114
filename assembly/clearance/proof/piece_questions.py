"""Questions that a pair's pieces put to the refiner.

All pairs go forward together, round by round; those that the same drives move share cells and posture solves. Each
piece of a pair cuts its lowest cells, bounds the children without a query where boxes are enough, and asks for the
distances that are left. What is found of one pair never depends on the others.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from assembly.clearance.proof.cells import Cells
from assembly.clearance.proof.lower_bound import Bounds
from assembly.clearance.proof.pair_search import PieceLook, PieceSearch
from assembly.clearance.proof.refiner import Children, Tiling, refine
from assembly.geometry.mesh import Ids

Wanted = Callable[[PieceSearch], tuple[float, float]]
"""The bound a piece wants for its cells, and the smallest cell (share of the range) worth cutting for it."""


@dataclass(slots=True, eq=False)
class PieceQuestion:
    """A question about the tiling of a piece, which is kept in the piece."""

    piece: PieceSearch
    cells: Cells

    @property
    def tiling(self) -> Tiling[Bounds]:
        """The piece's cells and their bounds."""
        return self.piece.tiling

    @tiling.setter
    def tiling(self, tiling: Tiling[Bounds]) -> None:
        self.piece.tiling = tiling


@dataclass(slots=True, eq=False)
class PieceRefinement(PieceQuestion):
    """Which bounds are below what is ``wanted``: the lowest ``at_once`` are cut."""

    wanted: Wanted
    at_once: int

    def to_cut(self) -> Ids:
        target, smallest = self.wanted(self.piece)
        return self.piece.lowest(target, self.cells, smallest, self.at_once)

    def axes(self, rows: Ids) -> Ids:
        """The drive that moves the two against each other most."""
        return self.piece.axes(self.cells, self.tiling.ids[rows])

    def look(self, children: Children[Bounds]) -> PieceLook:
        """Bounds without a query where they are enough, and the query for the rest."""
        target, _ = self.wanted(self.piece)
        return self.piece.look(self.cells, children, target)


@dataclass(slots=True, eq=False)
class _RollsCut(PieceQuestion):
    """Cells in which rolls are any, and whose bounds do not reach the ``target``: they are cut along the rolls."""

    target: float

    def to_cut(self) -> Ids:
        return np.flatnonzero((self.tiling.figures.lower < self.target) & self.cells.too_wide(self.tiling.ids))

    def axes(self, rows: Ids) -> Ids:
        return self.cells.axes_to_cut(self.tiling.ids[rows], np.zeros_like(rows))

    def bounded(self, children: Children[Bounds]) -> Bounds:
        """What held in the parents, nothing being looked at."""
        return children.inherited


def cut_rolls(piece: PieceSearch, cells: Cells, target: float) -> None:
    """Cut the cells in which rolls are any, where no bound that holds at any roll reaches ``target``."""
    question = _RollsCut(piece, cells, target)
    wide = question.to_cut()
    if not len(wide):
        return
    if (filled := piece.at_any_roll()) is not None:
        alone, own = cells.of_drives(piece.tiling.ids[wide])
        piece.raise_bounds(wide, filled.boxed(alone.motion_of(own, filled.bodies)))
    refine([question])
