"""Lower bounds on the smallest distance and room of all pairs that hold at every setting of given cells.

In each cell a distance is no less than what it is at the centre, less how far the two can move against each other in
the cell and less the errors. Bounds that stay far below what was found in their cell are sharpened by cutting the cell.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from assembly.clearance.cells import Ids
from assembly.clearance.centres import PIECES_TOGETHER, Centres
from assembly.clearance.leaves import Leaves
from assembly.clearance.lower_bound import Method, lower_bound
from assembly.clearance.outline import box_gaps, boxes
from assembly.clearance.queries import Job
from assembly.clearance.stock import SweptBoxes
from assembly.clearance.survey import DISTANCE, Flags, Near, batches
from assembly.geometry.mesh import Floats
from assembly.motion.travel import Displacement

SLACK_MM, SLACK_SHARE = 0.5, 0.02
"""A bound is loose where it lies below what was found in its cell by more than the larger of the two."""


@dataclass(frozen=True, slots=True, eq=False)
class _Look:
    """A look at piece ``index`` in the cells ``rows``.

    ``far`` and ``rounding`` mm: what a distance at their centres is to lose; ``asked``: the cells in which it is to be
    measured.
    """

    index: int
    rows: Ids
    far: Displacement
    rounding: Floats
    asked: Ids
    job: Job


class CellProof:
    """Bounds in the cells round ``centres``.

    ``lowest`` (2, N) mm, nan where the motion is not proven in the whole cell; ``apart`` (P, N): whether the surfaces
    of a pair are proven not to meet in it; ``found`` (2, N) mm: the smallest figures found anywhere in the cells.
    Pairs that rolls move are not looked at.
    """

    def __init__(self, centres: Centres) -> None:
        self.survey, self.centres = centres.survey, centres
        self.found = centres.found.copy()
        self.lowest = np.where(np.isinf(self.found), np.nan, np.inf)
        self.apart = np.ones((len(self.survey.wholes), self.found.shape[1]), dtype=bool)
        self.apart[[number for number, _ in self.survey.rolling]] = False
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
            loose = (self._least(leaves, near) < self._target(leaves)).any(axis=0) & (left > 0)
            self._fold(leaves.take(np.flatnonzero(~loose)), near)
            if not loose.any():
                break
            leaves = leaves.take(np.flatnonzero(loose)).thirds(self.survey.mechanism)

    def _target(self, leaves: Leaves) -> Floats:
        """The figures (2, N) that a cell's bounds need not exceed."""
        found = self.found[:, leaves.root]
        return np.asarray(found - np.maximum(SLACK_MM, SLACK_SHARE * found[DISTANCE]))

    def _loose(self, number: int, bound: Floats, target: Floats) -> Flags:
        """Where (N,) the bound of a pair is below its target."""
        return np.asarray((self.survey.figures(bound, number) < target).any(axis=0))

    def _opened(self, leaves: Leaves) -> tuple[Leaves, list[Near]]:
        """``leaves`` with rows for the shapes that need a closer look; the bounds of all others go into ``rest``.

        Shapes of the pairs that are nearest in most cells come first.
        """
        rest = np.full((2, len(leaves)), np.inf)
        swept, nothing = SweptBoxes(self.survey.mechanism, leaves.motion), np.zeros(len(leaves))
        asked = [Near(number, whole, nothing) for number, whole in self.survey.still]
        wholes = self._left(asked, leaves, swept, rest)
        asked = [Near(one.number, piece, one.bound) for one in wholes for piece in self.survey.pieces(one.number)]
        near = self._left(asked, leaves, swept, rest)
        near.sort(key=lambda one: (-self._owned[one.number], float(one.bound.mean())))
        known = np.full((len(near), len(leaves)), np.nan)
        at_root = self._at_root(leaves)
        for row, one in zip(known, near, strict=True):
            if one.solids in self.centres.known:
                row[at_root] = self.centres.known[one.solids][leaves.root[at_root]]
        lower = np.array([one.bound for one in near]).reshape(known.shape)
        return replace(leaves, known=known, lower=lower, rest=rest), near

    def _left(self, asked: Sequence[Near], leaves: Leaves, swept: SweptBoxes, rest: Floats) -> list[Near]:
        """Those of ``asked`` that boxes and the distances at the centres do not prove to stay far enough apart."""
        target, at_root, left = self._target(leaves), self._at_root(leaves), []
        for one in asked:
            bound = np.maximum(one.bound, swept.bounds(one.piece).lower)
            if one.solids in self.centres.bounds:
                gone = swept.displacement(one.piece.a).plus(swept.displacement(one.piece.b))
                at_centre, rounding = self.centres.bounds[one.solids][leaves.root], swept.rounding(one.piece)
                sure = lower_bound(Method.CARRIED, at_centre, gone, one.piece.surface_error, rounding).lower
                bound = np.where(at_root, np.maximum(bound, sure), bound)
            if (self._loose(one.number, bound, target) | (bound <= 0)).any():
                left.append(replace(one, bound=bound))
            else:
                rest[:] = np.minimum(rest, self.survey.figures(bound, one.number))
        return left

    def _at_root(self, leaves: Leaves) -> Flags:
        """Which (N,) leaves have the centre of their root cell."""
        return np.asarray((leaves.solved.settings == self.centres.solved.settings[leaves.root]).all(axis=1))

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
                _lower(self.found, leaves.root[look.asked], self.survey.figures(distances, number))
                errors = near[look.index].piece.surface_error
                sure = lower_bound(Method.CENTRE, known[rows], look.far, errors, look.rounding).lower
                lower[rows] = np.fmax(lower[rows], sure)
                _lower(sharp, rows, self.survey.figures(lower[rows], number))

    def _look(self, leaves: Leaves, index: int, one: Near, wanted: Floats) -> _Look:
        """What is proven of one shape without a measurement where its bound is loose, and what is to be measured."""
        known, lower, piece = leaves.known[index], leaves.lower[index], one.piece
        rows = np.flatnonzero(self._loose(one.number, lower, wanted) & leaves.motion.certified)
        motion = leaves.motion.take(rows)
        mechanism = self.survey.mechanism
        far, rounding = piece.displacement(mechanism, motion), piece.rounding(mechanism, motion)
        place_a, place_b = self.survey.places(piece, motion.posture)
        gaps = box_gaps(boxes(piece.a.outline, place_a), boxes(piece.b.outline, place_b))
        for method, distance in ((Method.BOXES, gaps), (Method.CENTRE, known[rows])):
            sure = lower_bound(method, distance, far, piece.surface_error, rounding).lower
            lower[rows] = np.fmax(lower[rows], sure)
        asked = rows[self._loose(one.number, lower[rows], wanted[:, rows]) & np.isnan(known[rows])]
        return _Look(index, rows, far, rounding, asked, self.survey.job(piece, leaves.solved.posture.take(asked)))

    def _least(self, leaves: Leaves, near: Sequence[Near]) -> Floats:
        """The bounds (2, N) that hold for all pairs together."""
        least = leaves.rest.copy()
        for one, lower in zip(near, leaves.lower, strict=True):
            least = np.minimum(least, self.survey.figures(lower, one.number))
        return least

    def _fold(self, leaves: Leaves, near: Sequence[Near]) -> None:
        """Take the bounds of cells that are not cut any more into those of their root cells."""
        _lower(self.lowest, leaves.root, self._least(leaves, near))
        for one, lower in zip(near, leaves.lower, strict=True):
            self.apart[one.number, leaves.root[lower <= 0]] = False


def _lower(table: Floats, index: Ids, values: Floats) -> None:
    """Lower the columns ``index`` of ``table`` (2, N) to ``values``; one named twice takes the smaller, nan stays."""
    with np.errstate(invalid="ignore"):
        for row, own in zip(table, values, strict=True):
            np.minimum.at(row, index, own)
