"""Cutting the range into cells for many pairs at once, until each has the bound that it is asked for.

All pairs go forward together, round by round; those that the same drives move share cells and posture solves. Each
piece of a pair cuts its lowest cells, bounds the thirds without a query where boxes are enough, and asks for the
distances that are left; one batch of queries answers all. What is found of one pair never depends on the others.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from assembly.clearance.cell_groups import CellGroups
from assembly.clearance.cells import Cells, Ids
from assembly.clearance.lower_bound import Bounds
from assembly.clearance.opening import STRIDES, Opening
from assembly.clearance.queries import Bench
from assembly.clearance.search import PairSearch, PieceSearch
from assembly.clearance.stock import Stock, SweptBoxes

Question = Callable[[PieceSearch], tuple[float, float]]
"""The bound a piece wants for its cells, and the smallest cell (share of the range) worth cutting for it."""
Progress = Callable[[str, int, int], None]
"""Called with the stage, how many pairs are done and how many there are."""


@dataclass(frozen=True, slots=True, eq=False)
class _Look:
    """Cells a piece is to look at, those they were cut from, the bounds they inherit, and whose place they take."""

    piece: PieceSearch
    cells: Cells
    ids: Ids
    parents: Ids
    inherited: Bounds
    replaced: NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Cutting:
    """Searches of pairs, each over the cells of the drives that move it, as far as the motion is proven in them.

    ``check_budget`` is called between rounds and may raise; every search then still covers the whole range.
    """

    groups: CellGroups
    stock: Stock
    bench: Bench
    progress: Progress
    check_budget: Callable[[], None]
    _swept: dict[Cells, SweptBoxes] = field(default_factory=dict)

    def cells_of(self, piece: PieceSearch | PairSearch) -> Cells:
        """The cells over the drives, and the rolls, that move the two of a piece against each other."""
        return self.groups.rolled(piece.rolls).between(piece.a.body, piece.b.body)

    def begin(self, search: PairSearch) -> None:
        """Bound a pair by boxes round the room that its parts take."""
        whole = PieceSearch(search, search.a, search.b, search.rolls)
        cells = self.cells_of(whole)
        whole.tiling = (cells.roots, self._boxes(cells).bounds(whole))
        search.pieces = (whole,)

    def open(self, searches: Sequence[PairSearch], targets: Sequence[float]) -> None:
        """Look at all cells of those whose bound does not reach the target, piece by piece of their parts."""
        openings: list[tuple[PairSearch, list[Opening]]] = []
        for search, target in zip(searches, targets, strict=True):
            if search.proven < target:
                pieces = self._pieces(search)
                for piece in pieces:
                    self._cut_rolls(piece, target)
                started = [Opening(piece, self.cells_of(piece), target) for piece in pieces]
                openings.append((search, started))
                self.check_budget()
        self.bench.add(self.stock.solids[len(self.bench.probes) :])
        every = [opening for _, started in openings for opening in started]
        for stride in STRIDES:
            asked = [opening.ask(stride) for opening in every]
            measured = self.bench.look([job for _, job in asked])
            for opening, (rows, _), found in zip(every, asked, measured, strict=True):
                opening.take_in(rows, found)
            self.progress("first look", stride, STRIDES[0])
            self.check_budget()
        for search, started in openings:
            for opening in started:
                opening.piece.tiling = (opening.ids, opening.bounds)
            search.pieces, search.opened = tuple(opening.piece for opening in started), True

    def refine(self, stage: str, searches: Sequence[PairSearch], question: Question, at_once: int) -> None:
        """Cut each piece's lowest cells, ``at_once`` a round, until the question it is asked has its answer."""
        active = [piece for search in searches for piece in search.pieces]
        while active:
            looks, targets = [], []
            for piece in active:
                target, smallest = question(piece)
                cells = self.cells_of(piece)
                rows = piece.lowest(target, cells, smallest, at_once)
                if len(rows):
                    leaves, bounds = piece.tiling
                    looks.append(_Look(piece, cells, leaves[rows], leaves[rows], bounds.take(rows), rows))
                    targets.append(target)
            self._look(_cut(looks), targets)
            self.check_budget()
            active = [look.piece for look in looks]
            self.progress(stage, len(searches) - len({id(piece.search) for piece in active}), len(searches))

    def _pieces(self, search: PairSearch) -> tuple[PieceSearch, ...]:
        """The pieces of a pair that is opened, or to be opened: those start from the bound of the whole."""
        if search.opened:
            return search.pieces
        coarse = search.pieces[0].tiling[1]
        sides = product(self.stock.pieces(search.a), self.stock.pieces(search.b))
        pieces = tuple(PieceSearch(search, a, b, self.stock.rolls_between(a, b)) for a, b in sides)
        for piece in pieces:
            cells = self.cells_of(piece)
            roots, boxed = cells.roots, self._boxes(cells).bounds(piece)
            piece.tiling = (
                roots,
                coarse.raised(np.arange(len(roots)), boxed) if piece.rolls == search.rolls else boxed,
            )
        return pieces

    def _cut_rolls(self, piece: PieceSearch, target: float) -> None:
        """Cut the cells in which rolls are any, where no bound that holds at any roll reaches ``target``."""
        cells, (leaves, bounds) = self.cells_of(piece), piece.tiling
        wide = np.flatnonzero((bounds.lower < target) & cells.too_wide(leaves))
        if len(wide) and (filled := piece.at_any_roll()) is not None:
            alone, own = cells.of_drives(leaves[wide])
            bounds = bounds.raised(wide, filled.boxed(alone.mechanism, alone.motion.take(own)))
            piece.tiling = leaves, bounds
        while len(wide := np.flatnonzero((bounds.lower < target) & cells.too_wide(leaves))):
            thirds = cells.split(leaves[wide], cells.axes_to_cut(leaves[wide], np.zeros_like(wide))).reshape(-1)
            kept = cells.some_allowed(thirds)
            inherited = bounds.take(np.repeat(wide, 3)[kept])
            leaves = np.concatenate([np.delete(leaves, wide), thirds[kept]])
            bounds = bounds.without(wide).with_more(inherited)
            piece.tiling = leaves, bounds

    def _look(self, looks: Sequence[_Look], targets: Sequence[float]) -> None:
        visits = [
            look.piece.prepare(look.cells, look.ids, look.parents, look.inherited, target)
            for look, target in zip(looks, targets, strict=True)
        ]
        measured = self.bench.look([visit.job for visit in visits])
        for look, visit, found in zip(looks, visits, measured, strict=True):
            visit.take_in(found, look.cells, look.replaced)

    def _boxes(self, cells: Cells) -> SweptBoxes:
        """Boxes round the room that solids take in the roots of ``cells``, at any roll."""
        alone, roots = cells.of_drives(cells.roots)
        if alone not in self._swept:
            self._swept[alone] = SweptBoxes(alone.mechanism, alone.motion.take(roots))
        return self._swept[alone]


def _cut(looks: Sequence[_Look]) -> list[_Look]:
    """The looks at the thirds of the cells of ``looks``, in their order; each third inherits its parent's bound.

    Thirds at none of whose settings the ends of a rod allow how it is rolled fall away.
    """
    thirds: dict[int, Ids] = {}
    for cells in dict.fromkeys(look.cells for look in looks):
        own = [number for number, look in enumerate(looks) if look.cells is cells]
        axes = np.concatenate([looks[number].piece.axes(cells, looks[number].ids) for number in own])
        cut = cells.split(np.concatenate([looks[number].ids for number in own]), axes)
        parts = np.split(cut, np.cumsum([len(looks[number].ids) for number in own])[:-1])
        thirds.update(zip(own, parts, strict=True))
    made = []
    for number, look in enumerate(looks):
        ids = thirds[number].reshape(-1)
        kept = look.cells.some_allowed(ids)
        parent, ids = np.repeat(np.arange(len(look.ids)), 3)[kept], ids[kept]
        made.append(replace(look, ids=ids, parents=look.ids[parent], inherited=look.inherited.take(parent)))
    return made
