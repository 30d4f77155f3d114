"""Bounds of one motion in the cells of a tiling, with what they are made of where the motion keeps that."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from assembly.clearance.narrow_phase.pair_result import Setting
from assembly.clearance.proof.cells import Cells
from assembly.clearance.proof.reduced_motion import ReducedMotion
from assembly.clearance.proof.refiner import Tiling
from assembly.geometry.mesh import Floats, Ids
from assembly.kinematics.joint_motion import WHOLE_TURN, JointMotion


@dataclass(frozen=True, slots=True)
class BoundTerms:
    """A bound as it was made in the cell ``at`` ± ``half``, and what it is the sum of."""

    at: Setting
    half: Setting
    bound: float
    terms: tuple[float, ...]


@dataclass(frozen=True, slots=True, eq=False)
class MotionBounds:
    """Of a motion in N cells: its value at their centres, bounds, and the way (N, d) to where it is largest.

    ``low_terms`` and ``high_terms`` (N, k) are of the bounds as they were made in the cells ``low_of`` and ``high_of``.
    """

    values: Floats
    low: Floats
    high: Floats
    up: Floats
    low_terms: Floats
    high_terms: Floats
    low_of: Ids
    high_of: Ids

    def within(self, inherited: MotionBounds) -> MotionBounds:
        """The better of these bounds and those ``inherited`` from the cells that these were cut from."""
        lower, upper = inherited.low > self.low, inherited.high < self.high
        return replace(
            self,
            low=np.where(lower, inherited.low, self.low),
            high=np.where(upper, inherited.high, self.high),
            low_terms=np.where(lower[:, None], inherited.low_terms, self.low_terms),
            high_terms=np.where(upper[:, None], inherited.high_terms, self.high_terms),
            low_of=np.where(lower, inherited.low_of, self.low_of),
            high_of=np.where(upper, inherited.high_of, self.high_of),
        )


def bounds_over(motion: JointMotion, cells: Cells, ids: Ids, values: Floats) -> MotionBounds:
    """The bounds in the cells ``ids`` (N,); ``values`` (N,) are those at the centres, whole turns distinguished."""
    span = motion.span(cells.motion.take(ids), values)
    none = np.zeros((len(ids), 0))
    low_terms, high_terms = (none if one is None else one for one in (span.low_terms, span.high_terms))
    return MotionBounds(values, span.low, span.high, span.up, low_terms, high_terms, ids, ids)


def first_bounds(motion: JointMotion, cells: Cells) -> Tiling[MotionBounds]:
    """The cells whose motion is proven, with the motion's bounds."""
    values = motion.values(cells.solved(cells.roots).posture)
    return Tiling(cells.roots, bounds_over(motion, cells, cells.roots, values))


def within_a_turn(motion: JointMotion, bounds: MotionBounds) -> bool:
    """Whether no cell reaches half a turn, so that no whole turns are to be distinguished."""
    return not motion.turning or max(bounds.high.max(), -bounds.low.min()) < WHOLE_TURN / 2


def governing(within: ReducedMotion, cells: Cells, bounds: MotionBounds) -> tuple[BoundTerms, BoundTerms] | None:
    """The bounds of the whole range, least and most, as they were made; None where their terms are not kept."""
    if not bounds.low_terms.shape[1]:
        return None
    low, high = int(bounds.low.argmin()), int(bounds.high.argmax())
    return (
        _terms(within, cells, int(bounds.low_of[low]), float(bounds.low[low]), bounds.low_terms[low]),
        _terms(within, cells, int(bounds.high_of[high]), float(bounds.high[high]), bounds.high_terms[high]),
    )


def _terms(within: ReducedMotion, cells: Cells, cell: int, bound: float, terms: Floats) -> BoundTerms:
    at, half = (within.widened(tuple(one[cell].tolist())) for one in (cells.settings, cells.half))
    return BoundTerms(at, half, bound, tuple(terms.tolist()))
