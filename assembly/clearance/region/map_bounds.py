"""Lower bounds on the smallest distance and room of all pairs that hold at every setting of given cells.

Shape by shape, those first that are nearest in most cells, a cell is cut where the bound stays far below what was found
in it, unless the bound of another shape is lower there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assembly.clearance.narrow_phase.queries import Job
from assembly.clearance.proof.cells import Cells
from assembly.clearance.proof.lower_bound import Bounds, Method, lower_bound
from assembly.clearance.proof.pair_search import PieceLook, PieceSearch
from assembly.clearance.proof.pair_table import DISTANCE, PairTable, batches
from assembly.clearance.proof.refiner import Children, Tiling, refine, refine_measured
from assembly.clearance.proof.solid_table import SweptBoxes
from assembly.clearance.region.lattice_distances import PIECES_TOGETHER, LatticeDistances
from assembly.geometry.mesh import Floats, Ids
from assembly.time_limit import check_time

CUTS = 2
"""How often a cell is cut in three whose bound is loose."""
SLACK_MM, SLACK_SHARE = 0.5, 0.02
"""A bound is loose where it lies below what was found in its cell by more than the larger of the two."""


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """Parts of given cells: the cell ``root`` (N,) that each was cut out of and how often it was cut (``level``)."""

    root: Ids
    level: Ids

    def cut_again(self) -> _Part:
        """The same of what is cut out of them."""
        return _Part(self.root, self.level + 1)


@dataclass(frozen=True, slots=True, eq=False)
class _Figures:
    """The bounds of a shape in parts of given cells."""

    part: _Part
    bounds: Bounds


class CellProof:
    """Bounds in the first of ``cells``, whose centres were measured.

    ``lowest`` (2, N) mm, nan where the motion is not proven in the whole cell; ``apart`` (P, N): whether the surfaces
    of a pair are proven not to meet in it; ``found`` (2, N) mm: the smallest figures found anywhere in the cells.
    Pairs that rolls move are not looked at.
    """

    def __init__(self, pair_table: PairTable, cells: Cells, centres: LatticeDistances) -> None:
        self.pair_table, self.cells, self.centres = pair_table, cells, centres
        self.found = centres.found.copy()
        self.lowest = np.where(np.isinf(self.found), np.nan, np.inf)
        self.apart = np.ones((len(pair_table.wholes), len(cells.first)), dtype=bool)
        self.apart[[number for number, _ in pair_table.rolling]] = False

    def wanted(self, number: int, root: Ids) -> Floats:
        """The distances (n,) mm that bounds of a pair in parts of cells ``root`` need not exceed.

        None is below 0; what the sweep has proven already is not wanted again.
        """
        found = self.found[:, root]
        slack = np.maximum(SLACK_MM, SLACK_SHARE * found[DISTANCE])
        figures = np.minimum(found - slack, self.lowest[:, root])
        wanted = (figures + self.pair_table.taken_off[:, number, None]).max(axis=0)
        return np.where(wanted > max(0.0, self.pair_table.proven[number]), wanted, -np.inf)

    def take_in(self, number: int, root: Ids, lower: Floats) -> None:
        """Bounds (n,) mm on the distance of a pair in parts of the cells ``root``, all of them."""
        sure = np.maximum(lower, self.pair_table.proven[number])
        _lower(self.lowest, root, self.pair_table.figures(np.maximum(sure, 0.0), number))
        self.apart[number, root[sure <= 0]] = False


def prove_cells(pair_table: PairTable, cells: Cells, centres: LatticeDistances) -> CellProof:
    """Prove what can be proven in the first of ``cells``, cutting each a few times at most."""
    proof = CellProof(pair_table, cells, centres)
    parts = _proven_parts(proof)
    near = _near(proof, parts)
    for some in batches(near, PIECES_TOGETHER):
        questions = [_Loose(proof, one, Tiling(parts.ids, _Figures(parts.figures, one.bounds))) for one in some]
        refine_measured(questions, pair_table.bench)
        for question in questions:
            figures = question.tiling.figures
            proof.take_in(question.near.number, figures.part.root, figures.bounds.lower)
    return proof


@dataclass(slots=True, eq=False)
class _Unproven:
    """In which cells the motion is not proven: they are cut."""

    cells: Cells
    tiling: Tiling[_Part]

    def to_cut(self) -> Ids:
        lost = ~self.cells.motion.certified[self.tiling.ids]
        return np.flatnonzero(lost & (self.tiling.figures.level < CUTS))

    def axes(self, rows: Ids) -> Ids:
        motion, scale = self.cells.motion.take(self.tiling.ids[rows]), self.cells.mechanism.equations.scale
        with np.errstate(invalid="ignore", over="ignore"):
            rate = np.linalg.norm(motion.shift_rate, axis=-1) + scale * np.linalg.norm(motion.turn_rate, axis=-1)
            rates = np.nan_to_num(rate.max(axis=1) * motion.half, posinf=0.0)
        return np.asarray(np.argmax(rates, axis=1), dtype=np.intp)

    def bounded(self, children: Children[_Part]) -> _Part:
        return children.inherited.cut_again()


def _proven_parts(proof: CellProof) -> Tiling[_Part]:
    """Cells that cover those whose centre is reached, but those in a part of which the motion cannot be proven."""
    cells = proof.cells
    ids = cells.first[cells.reached[cells.first]]
    question = _Unproven(cells, Tiling(ids, _Part(ids, np.zeros_like(ids))))
    refine([question])
    tiling = question.tiling
    lost = np.unique(tiling.figures.root[~cells.motion.certified[tiling.ids]])
    proof.lowest[:, lost], proof.apart[:, lost] = np.nan, False
    kept = ~np.isin(tiling.figures.root, lost)
    return Tiling(tiling.ids[kept], _Part(tiling.figures.root[kept], tiling.figures.level[kept]))


@dataclass(frozen=True, slots=True, eq=False)
class _Piece:
    """A shape against another, of pair ``number``, and its first ``bounds`` (N,)."""

    number: int
    piece: PieceSearch
    bounds: Bounds


def _near(proof: CellProof, parts: Tiling[_Part]) -> list[_Piece]:
    """The shapes that need a closer look; the bounds of all others are taken in. Those nearest in most cells first."""
    pair_table, motion = proof.pair_table, proof.cells.motion.take(parts.ids)
    swept, left = SweptBoxes(pair_table.mechanism, motion), []
    wholes = [(number, piece) for number, piece in pair_table.still]
    asked = [
        (one.number, piece) for one in _left(proof, parts, swept, wholes) for piece in pair_table.pieces(one.number)
    ]
    left = _left(proof, parts, swept, asked)
    owner = proof.centres.owner
    owned = np.bincount(owner[owner >= 0], minlength=len(proof.apart)).tolist()
    return sorted(left, key=lambda one: (-owned[one.number], float(one.bounds.lower.mean())))


def _left(
    proof: CellProof, parts: Tiling[_Part], swept: SweptBoxes, asked: Sequence[tuple[int, PieceSearch]]
) -> list[_Piece]:
    """Those that boxes and the distances at the centres do not prove to stay far enough apart."""
    left: list[_Piece] = []
    root = parts.figures.root
    at_root = np.flatnonzero(parts.ids == root)
    for number, piece in asked:
        check_time()
        (bounds,), solids = swept.bounds([piece]), (piece.a.solid, piece.b.solid)
        if solids in proof.centres.bounds:
            far = swept.displacement(piece.a).plus(swept.displacement(piece.b))
            distances, rounding = proof.centres.bounds[solids][root], swept.rounding(piece)
            carried = lower_bound(Method.CARRIED, distances, far, piece.surface_error, rounding)
            bounds = bounds.raised(at_root, carried.take(at_root))
        if (bounds.lower < proof.wanted(number, root)).any():
            left.append(_Piece(number, piece, bounds))
        else:
            proof.take_in(number, root, bounds.lower)
    return left


@dataclass(slots=True, eq=False)
class _Loose:
    """In which cells the bound of a shape is loose: after a first look at all they are cut, a few times each."""

    proof: CellProof
    near: _Piece
    tiling: Tiling[_Figures]
    looked: bool = False

    @property
    def cells(self) -> Cells:
        """The cells that are cut."""
        return self.proof.cells

    def to_cut(self) -> Ids:
        if not self.looked:
            return np.arange(len(self.tiling), dtype=np.intp)
        part = self.tiling.figures.part
        loose = self.tiling.figures.bounds.lower < self.proof.wanted(self.near.number, part.root)
        return np.flatnonzero(loose & (part.level < CUTS))

    def axes(self, rows: Ids) -> Ids | None:
        return self.near.piece.axes(self.cells, self.tiling.ids[rows]) if self.looked else None

    def look(self, children: Children[_Figures]) -> _LooseLook:
        """What is known of new cells, and the distances that are needed."""
        check_time()
        part, piece = children.inherited.part, self.near.piece
        if children.uncut:
            self._recall_centres()
        else:
            part = part.cut_again()
        self.looked = True
        inside = Children(children.rows, children.ids, children.parents, children.inherited.bounds)
        wanted = self.proof.wanted(self.near.number, part.root)
        known = ~np.isnan(piece.found_at(self.cells, children.ids)[:, 0])
        loose = inside.inherited.lower < wanted
        # What is known at a centre is used even where boxes would do.
        wanted = np.where(known & loose, np.inf, wanted)
        return _LooseLook(self.proof, self.near, part, piece.look(self.cells, inside, wanted))

    def _recall_centres(self) -> None:
        """Let the shape know what was measured at the cells' centres."""
        solids = self.near.piece.a.solid, self.near.piece.b.solid
        centres = self.proof.centres.known.get(solids, np.zeros((0, 4)))
        for root in np.flatnonzero(~np.isnan(centres[:, 0])).tolist():
            self.near.piece.known[root] = centres[root]


@dataclass(frozen=True, slots=True, eq=False)
class _LooseLook:
    """A look at ``part``s of cells, by way of a look of the shape."""

    proof: CellProof
    near: _Piece
    part: _Part
    of_piece: PieceLook

    @property
    def job(self) -> Job:
        """The distances that are needed."""
        return self.of_piece.job

    def figures(self, found: Floats) -> _Figures:
        """The figures of the cells, and what was found in them noted for all shapes."""
        bounds, proof = self.of_piece.figures(found), self.proof
        distances = self.near.piece.found_at(proof.cells, self.of_piece.ids)[:, 0]
        known = np.flatnonzero(~np.isnan(distances))
        _lower(proof.found, self.part.root[known], proof.pair_table.figures(distances[known], self.near.number))
        return _Figures(self.part, bounds)


def _lower(table: Floats, index: Ids, values: Floats) -> None:
    """Lower the columns ``index`` of ``table`` (2, N) to ``values``; one named twice takes the smaller, nan stays."""
    with np.errstate(invalid="ignore"):
        for row, own in zip(table, values, strict=True):
            np.minimum.at(row, index, own)
