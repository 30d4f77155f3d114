"""Lower bounds on the smallest distance and room of all pairs that hold at every setting of given cells."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from assembly.clearance.cells import Ids
from assembly.clearance.centres import PIECES_TOGETHER, Centres
from assembly.clearance.leaves import Leaves
from assembly.clearance.outline import box_gaps, boxes
from assembly.clearance.queries import Job
from assembly.clearance.search import PieceSearch
from assembly.clearance.survey import DISTANCE, Flags, Near, SweptBoxes, batches
from assembly.geometry.mesh import Floats

SLACK_MM, SLACK_SHARE = 0.5, 0.1
"""A bound is loose where it lies below what was found in its cell by more than the larger of the two."""


@dataclass(frozen=True, slots=True, eq=False)
class _Look:
    """Piece ``index`` in the cells ``rows``: what a distance at their centres is to lose (``less``, mm), and the
    distances that are to be measured, in the cells ``asked``.
    """

    index: int
    rows: Ids
    less: Floats
    asked: Ids
    job: Job


class CellProof:
    """Bounds in the cells round ``centres``: ``lowest`` (2, N) mm, nan where the motion is not proven in the whole
    cell, and ``apart`` (P, N), whether the surfaces of a pair are proven not to meet in it.
    """

    def __init__(self, centres: Centres) -> None:
        self.survey, self.centres = centres.survey, centres
        self.found = centres.found.copy()
        """(2, N) mm: the smallest figures found anywhere in the cells."""
        self.lowest = np.where(np.isinf(self.found), np.nan, np.inf)
        self.apart = np.ones((len(self.survey.stock.searches), self.found.shape[1]), dtype=bool)
        owned = np.bincount(centres.owner[centres.owner >= 0], minlength=len(self.apart))
        self._owned: list[int] = owned.tolist()

    def add(self, leaves: Leaves, cuts: int) -> None:
        """Prove what can be proven in cells of which nothing is known yet, cutting them ``cuts`` times at most."""
        lost = leaves.take(np.flatnonzero(~leaves.motion.certified))
        if cuts and len(lost):
            self.add(lost.thirds(self.survey.mechanism), cuts - 1)
        else:
            self.lowest[:, lost.root], self.apart[:, lost.root] = np.nan, False
        leaves, near = self._opened(leaves.take(np.flatnonzero(leaves.motion.certified)))
        for left in range(cuts, -1, -1):
            self._sharpen(leaves, near, last=not left)
            least = self._least(leaves, near)
            loose = (least < self._target(leaves)).any(axis=0) & (left > 0)
            self._fold(leaves.take(np.flatnonzero(~loose)), near)
            leaves = leaves.take(np.flatnonzero(loose))
            if not len(leaves):
                break
            leaves = leaves.thirds(self.survey.mechanism)

    def _target(self, leaves: Leaves) -> Floats:
        """The figures (2, N) that a cell's bounds need not exceed."""
        slack = np.maximum(SLACK_MM, SLACK_SHARE * self.found[DISTANCE])
        return np.asarray((self.found - slack)[:, leaves.root])

    def _opened(self, leaves: Leaves) -> tuple[Leaves, list[Near]]:
        """``leaves`` with rows for the shapes that boxes do not settle, those of the nearest pairs first."""
        rest = np.full((2, len(leaves)), np.inf)
        near = self._near(leaves, rest)
        near.sort(key=lambda one: (-self._owned[one.number], float(one.bound.mean())))
        shape = len(near), len(leaves)
        known, lower = np.full(shape, np.nan), np.zeros(shape)
        own = (leaves.solved.settings == self.centres.solved.settings[leaves.root]).all(axis=1)
        for index, one in enumerate(near):
            measured = self.centres.known.get(one.solids)
            if measured is not None:
                known[index] = np.where(own, measured[leaves.root], np.nan)
            lower[index] = one.bound
        return replace(leaves, known=known, lower=lower, rest=rest), near

    def _near(self, leaves: Leaves, rest: Floats) -> list[Near]:
        """The shapes that boxes and distances do not prove to stay far apart; all others go into ``rest``."""
        swept = SweptBoxes(self.survey.mechanism, leaves.motion)
        target = self._target(leaves)
        own = (leaves.solved.settings == self.centres.solved.settings[leaves.root]).all(axis=1)

        def loose(one: Near) -> Near | None:
            """``one`` with the bound that is known of it, or None where that is enough."""
            piece, bound = one.piece, np.maximum(one.bound, swept.gaps(one.piece) - one.piece.errors)
            known = self.centres.bounds.get(one.solids)
            if known is not None:
                gone = swept.far(piece.search.a) + swept.far(piece.search.b) + piece.errors
                bound = np.where(own, np.maximum(bound, known[leaves.root] - gone), bound)
            if (self._open(one.number, bound, target) | (bound <= 0)).any():
                return replace(one, bound=bound)
            rest[:] = np.minimum(rest, self.survey.figures(bound, one.number))
            return None

        nothing = np.zeros(len(leaves))
        wholes = [loose(Near(number, whole, nothing)) for number, whole in enumerate(self.survey.wholes)]
        pieces = [
            Near(one.number, piece, one.bound) for one in wholes if one for piece in self.survey.pieces(one.number)
        ]
        return [one for one in map(loose, pieces) if one]

    def _open(self, number: int, bound: Floats, target: Floats) -> Flags:
        """Where (N,) a bound is loose."""
        return np.asarray((self.survey.figures(bound, number) < target).any(axis=0))

    def _sharpen(self, leaves: Leaves, near: Sequence[Near], *, last: bool) -> None:
        """Raise loose bounds; in the ``last`` round spare those that cannot lower their cell's figures any more."""
        target, sharp = self._target(leaves), np.full((2, len(leaves)), np.inf)
        for indices in batches(range(len(near)), PIECES_TOGETHER):
            wanted = np.minimum(target, sharp) if last else target
            looks = [self._look(leaves, index, near[index], wanted) for index in indices]
            for look, distances in zip(looks, self.survey.bench.measure([look.job for look in looks]), strict=True):
                number, rows = near[look.index].number, look.rows
                known, lower = leaves.known[look.index], leaves.lower[look.index]
                known[look.asked] = distances
                found = self.survey.figures(distances, number)
                np.minimum.at(self.found, (slice(None), leaves.root[look.asked]), found)
                lower[rows] = np.fmax(lower[rows], known[rows] - look.less)
                sharp[:, rows] = np.minimum(sharp[:, rows], self.survey.figures(lower[rows], number))

    def _look(self, leaves: Leaves, index: int, one: Near, wanted: Floats) -> _Look:
        """What is proven without a query of one shape where it is loose, and what is to be measured."""
        known, lower, piece = leaves.known[index], leaves.lower[index], one.piece
        open_ = self._open(one.number, lower, wanted) & (known != 0) & leaves.motion.certified
        rows = np.flatnonzero(open_)
        motion = leaves.motion.take(rows)
        less = piece.travel(motion, self.survey.mechanism.bodies.centres) + piece.errors
        place_a, place_b = self.survey.places(piece, motion.posture)
        gaps = box_gaps(boxes(piece.a.outline, place_a), boxes(piece.b.outline, place_b))
        lower[rows] = np.maximum(lower[rows], np.fmax(gaps, known[rows]) - less)
        ask = rows[self._open(one.number, lower[rows], wanted[:, rows]) & np.isnan(known[rows])]
        return _Look(index, rows, less, ask, self.survey.job(piece, leaves.solved.posture.take(ask)))

    def _least(self, leaves: Leaves, near: Sequence[Near]) -> Floats:
        """The bounds (2, N) that hold for all pairs together."""
        least = leaves.rest.copy()
        for one, lower in zip(near, leaves.lower, strict=True):
            least = np.minimum(least, self.survey.figures(lower, one.number))
        return least

    def _fold(self, leaves: Leaves, near: Sequence[Near]) -> None:
        """Take the bounds of cells that are not cut any more into those of their root cells."""
        np.minimum.at(self.lowest, (slice(None), leaves.root), self._least(leaves, near))
        for one, lower in zip(near, leaves.lower, strict=True):
            self.apart[one.number, leaves.root[lower <= 0]] = False
