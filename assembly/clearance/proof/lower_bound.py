"""The inequality that every proven clearance rests on, in one place, with each of its terms.

    distance anywhere >= distance known - displacement - residual - surface errors - query tolerance - rounding

What is known, and displaced from where, is the ``Method``. A bound is made together with its terms, where they are
worked out, and keeps them wherever it goes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from assembly.clearance.narrow_phase.bounding_balls import BoundingBalls, Side
from assembly.clearance.narrow_phase.distance import QUERY_TOLERANCE
from assembly.geometry.mesh import Floats, Ids
from assembly.geometry.rotations import inverse_rigid, lengths
from assembly.kinematics.cell_bounds import BodiesMotion
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rows import Posture
from assembly.kinematics.travel import Displacement

TERMS = ("distance", "displacement", "residual", "surface_error", "query_tolerance", "rounding")
"""Columns of ``Bounds.error_budget``: the first, less all others, is the bound."""
ROUNDED_OPERATIONS = 64
"""Half units in the last place that a coordinate may be off: some 25 sums and products each for two solids, on numbers
no larger than the coordinates, in each of three directions."""

Methods = NDArray[np.int8]


class Method(IntEnum):
    """What distance a bound starts from."""

    NOTHING = 0
    """Nothing is proven."""
    SWEPT_BOXES = 1
    """Between boxes round all the space that each solid takes in the cell; their displacement is in the boxes."""
    BOXES = 2
    """Between boxes round the solids at the cell's centre, or planes that keep them apart there."""
    CENTRE = 3
    """Measured at the cell's centre."""
    CARRIED = 4
    """Measured at another setting; the displacement from there to the cell's centre counts with that in the cell."""
    FACING = 5
    """Across the gap that the solids' hulls leave at the cell's centre along one direction."""
    AT_REST = 6
    """Measured at rest, of parts that never move against each other."""


@dataclass(frozen=True, slots=True, eq=False)
class Bounds:
    """Lower bounds ``lower`` (N,) mm, ``error_budget`` (N, 6) mm in the order of ``TERMS``, and ``method`` (N,)."""

    lower: Floats
    error_budget: Floats
    method: Methods

    def __len__(self) -> int:
        return len(self.lower)

    def take(self, index: Ids) -> Bounds:
        """Those at ``index``."""
        return Bounds(self.lower[index], self.error_budget[index], self.method[index])

    def part(self, start: int, end: int) -> Bounds:
        """Those from ``start`` to before ``end``, in the same memory."""
        return Bounds(self.lower[start:end], self.error_budget[start:end], self.method[start:end])

    def raised(self, rows: Ids, other: Bounds) -> Bounds:
        """The higher of two bounds, with its own terms, at ``rows``, which are those of ``other`` (n,)."""
        higher = other.lower > self.lower[rows]
        at, better = rows[higher], other.take(np.flatnonzero(higher))
        lower, error_budget, method = self.lower.copy(), self.error_budget.copy(), self.method.copy()
        lower[at], error_budget[at], method[at] = better.lower, better.error_budget, better.method
        return Bounds(lower, error_budget, method)


def lower_bound(
    method: Method | Methods,
    distance: Floats | float,
    displacement: Displacement,
    surface_error: Floats | float,
    rounding: Floats | float = 0.0,
) -> Bounds:
    """Bounds (N,) from distances (N,) or one for all, mm; nan or -inf where a distance or displacement is not known."""
    columns = distance, displacement.motion, displacement.residual, surface_error, QUERY_TOLERANCE, rounding
    error_budget = np.empty((max(map(np.size, columns)) if all(map(np.size, columns)) else 0, len(TERMS)))
    for number, column in enumerate(columns):
        error_budget[:, number] = column
    lower = error_budget[:, 0].copy()
    for number in range(1, len(TERMS)):
        lower -= error_budget[:, number]
    return Bounds(lower, error_budget, np.full(len(lower), method, dtype=np.int8))


def no_bounds(count: int) -> Bounds:
    """``count`` bounds of which nothing is known."""
    error_budget = np.zeros((count, len(TERMS)))
    return Bounds(np.full(count, -np.inf), error_budget, np.full(count, Method.NOTHING, dtype=np.int8))


def rounding_allowance(mechanism: Mechanism, sides: Sequence[Side], posture: Posture) -> Floats:
    """How far (N,) mm double precision can shift two solids against each other, at N postures.

    It grows with the coordinates: where the solids are drawn, and where they stand.
    """
    drawn = mechanism.bodies.centres
    return np.asarray(
        np.max([rounding_of(side, posture.centres[:, side.body], drawn[side.body]) for side in sides], axis=0)
    )


def rounding_in(sides: Sequence[Side], motion: BodiesMotion) -> Floats:
    """The same (N,) mm at the centres of N cells, of whose motion that of the solids' bodies is known."""
    centres = motion.motion.posture.centres
    rows = [motion.number(side.body) for side in sides]
    every = zip(sides, rows, strict=True)
    return np.asarray(np.max([rounding_of(side, centres[:, row], motion.rest[row]) for side, row in every], axis=0))


def rounding_of(side: Side, centres: Floats, rest: Floats) -> Floats:
    """The part (N,) mm of one of two solids in that: the larger of both counts.

    ``centres`` (N, 3) mm: where the reference point of its body stands, that is drawn at ``rest`` (3,).
    """
    drawn = float((np.abs(side.outline.points).max(axis=1) + side.outline.radii).max(initial=0.0))
    size = np.abs(centres).max(axis=1) + drawn + float(np.abs(rest).max())
    return np.asarray(ROUNDED_OPERATIONS * np.finfo(np.float64).eps / 2 * size)


class RelativePlaces:
    """Where two solids stand against each other at N postures, and how far either moved from one to another.

    ``a_from_b`` (N, 4, 4): the second solid's place as the first sees it, both drawn at rest.
    """

    def __init__(self, a: BoundingBalls, b: BoundingBalls, a_from_b: Floats) -> None:
        self.a_from_b = a_from_b
        self._views = (b, a_from_b), (a, inverse_rigid(a_from_b))

    def moved(self, rows: Ids, origins: Ids) -> Floats:
        """How far (n,) mm points of a solid, seen from the other, are at ``rows`` from where they are at ``origins``.

        The smaller of the two views holds. Over a ball a turn moves its points, beyond the middle, by no more than the
        radius times the spectral norm of the rotations' difference. That is 2 sin(t/2) for a turn of t, twice, and
        0 along the axis: the Frobenius norm less a factor of the root of 2 (closed form).
        """
        far = []
        for outline, place in self._views:
            change = place[rows, :3] - place[origins, :3]
            gone = lengths(change[:, :, :3] @ outline.points.T + change[:, :, 3:], axis=1)
            if outline.radii.any():
                turned = change[:, :, :3]
                gone += np.sqrt(np.einsum("nij,nij->n", turned, turned) / 2)[:, None] * outline.radii
            far.append(gone.max(axis=1, initial=0.0))
        return np.asarray(np.minimum(*far))
