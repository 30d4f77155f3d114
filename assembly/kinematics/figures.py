"""Scalar figures of rigid bodies' postures, bounded over cells: what measures and wheels are told by.

A figure is one function of points and directions of some bodies, written in Taylor models (``ScalarFigure.of``). From
that alone follow its value at any posture, bounds of it all through a cell, and derivatives over the bodies' motions;
so whatever can be written so is bracketed over the range by the same search as the motions of joints
(``clearance/proof/joint_search.py``), which takes a ``FigureMotion``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from assembly.geometry.mesh import Flags, Floats
from assembly.kinematics.cell_motion import CellMotion
from assembly.kinematics.expansion import ROUNDING
from assembly.kinematics.frames import Frames, at_postures, over_cells
from assembly.kinematics.joint_motion import Span
from assembly.kinematics.rows import Posture
from assembly.kinematics.scalar_quantity import ScalarQuantity
from assembly.kinematics.taylor import GRAIN, Taylor

LINEAR = 0.1
"""Weight of what is exact to first order: a cell's corner is that far away, but no bound is too wide by it."""
LEVER = 100.0
"""mm that weigh as much as a radian where drives are compared."""


class ScalarFigure(ScalarQuantity, Protocol):
    """One number of the postures of some bodies, in ``unit``, ``deg`` or ``mm``.

    ``turning``: an angle of which whole turns count. ``bodies``: all that it depends on, the ground too where it does.
    ``ends``: what it never goes beyond, whatever the postures.
    """

    @property
    def ends(self) -> tuple[float, float]:
        """The least and the most that it can be at all."""

    def among(self, bodies: Sequence[int]) -> ScalarFigure:
        """The same over these ``bodies`` only, in this order."""

    def of(self, frames: Frames) -> Taylor:
        """The figure (N,) in its unit; NaN and unbounded where it has no value."""


@dataclass(frozen=True, slots=True, eq=False)
class FigureMotion:
    """A figure as a motion that the search of joints brackets. ``rest`` (B, 3) mm: the bodies' points as drawn."""

    figure: ScalarFigure
    rest: Floats

    @property
    def name(self) -> str:
        """What it is called."""
        return self.figure.name

    @property
    def unit(self) -> str:
        """``deg`` or ``mm``."""
        return self.figure.unit

    @property
    def turning(self) -> bool:
        """Whether values are known up to whole turns only."""
        return self.figure.turning

    @property
    def bodies(self) -> tuple[int, ...]:
        """The bodies that it depends on."""
        return self.figure.bodies

    def among(self, bodies: Sequence[int]) -> FigureMotion:
        """The same over these ``bodies`` only, in this order."""
        return replace(self, figure=self.figure.among(bodies), rest=self.rest[list(bodies)])

    def values(self, posture: Posture) -> Floats:
        """The figure (N,) at each posture; NaN where it has none."""
        return self._of(at_postures(posture, self.rest)).value

    def span(self, motion: CellMotion, values: Floats) -> Span:
        """Its bounds all through the cells, with the terms of each; ``values`` (N,) are those at the centres."""
        found = self._of(over_cells(motion, self.rest))
        down, up = (_farthest(way, found) for way in (-1.0, 1.0))
        with np.errstate(invalid="ignore"):
            rounding = GRAIN * np.maximum(np.abs(values), 1.0)
            known = motion.certified & np.isfinite(found.rest) & np.isfinite(values) & np.isfinite(down + up)
            rest = np.where(known, ROUNDING * found.rest, np.inf)
            low_terms = np.stack([values, ROUNDING * down, rest, rounding], axis=1)
            high_terms = np.stack([values, ROUNDING * up, rest, rounding], axis=1)
            low, high = _bound(-1.0, low_terms, known), _bound(1.0, high_terms, known)
        lowest, highest = self.figure.ends
        return Span(np.maximum(low, lowest), np.minimum(high, highest), np.sign(found.first), low_terms, high_terms)

    def _of(self, frames: Frames) -> Taylor:
        """The figure in ``frames``; where it has no value what it is put together from may have none either."""
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            return self.figure.of(frames)

    def rates(self, motion: CellMotion) -> Floats:
        """What each drive (N, d) adds per unit to what is not exact in a cell, for choosing where to cut.

        The rest is shared out by how much each drive moves the bodies, since it is of third order in that.
        """
        found = self._of(over_cells(motion, self.rest))
        own = LINEAR * np.abs(found.first) + 0.5 * np.einsum("nde,ne->nd", np.abs(found.second), motion.half)
        bodies = list(self.bodies)
        moved = np.linalg.norm(motion.turn_rate[:, bodies], axis=-1).sum(axis=1)
        moved = moved + np.linalg.norm(motion.shift_rate[:, bodies], axis=-1).sum(axis=1) / LEVER
        whole = np.maximum(np.einsum("nd,nd->n", moved, motion.half), 1e-300)[:, None]
        known = np.isfinite(found.rest)[:, None] & np.isfinite(own)
        with np.errstate(invalid="ignore"):
            return np.asarray(np.where(known, own + found.rest[:, None] * moved / whole, moved))


def _bound(way: float, terms: Floats, known: Flags) -> Floats:
    """The bound (N,) that ``terms`` (N, 4) come to, infinite where it is not ``known``."""
    return np.asarray(np.where(known, terms[:, 0] + way * terms[:, 1:].sum(axis=1), way * np.inf))


def _farthest(way: float, found: Taylor) -> Floats:
    """The most (N,) that the first- and second-order parts may add in direction ``way``.

    Drive by drive the quadratic's own largest value, exactly; what two drives do together by its size.
    """
    half, slope = found.half, np.abs(found.first)
    bent = way * np.einsum("ndd->nd", found.second)
    with np.errstate(divide="ignore", invalid="ignore"):
        inside = (bent < 0) & (slope < -bent * half)
        along = np.where(inside, slope**2 / (2 * -bent), slope * half + 0.5 * bent * half**2)
    both = np.abs(found.second) * half[:, :, None] * half[:, None]
    pairs = 0.5 * (both.sum(axis=(1, 2)) - np.einsum("ndd->n", both))
    return np.asarray(along.sum(axis=1) + pairs)
