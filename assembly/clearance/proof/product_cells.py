"""Cells over two sets of drives with none in common, as products of the cells over either: no new ones are made.

Where one set moves the one part of a pair and the other set the other, a cell of the first and a cell of the second are
together one cell over both. In it either part stays in the box that holds it in its own cell, wherever the drives of
the other stand; so the gap between the two boxes is a bound there (``Method.SWEPT_BOXES``), with the terms of both. Of
all products only the one with the lowest bound is kept, which holds over the whole range.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assembly.clearance.narrow_phase.bounding_balls import Side, box_gaps
from assembly.clearance.proof.cells import Cells
from assembly.clearance.proof.lower_bound import Bounds, Method, lower_bound
from assembly.geometry.mesh import Floats
from assembly.kinematics.mechanism import Submechanism
from assembly.kinematics.travel import STILL

PRODUCTS_AT_ONCE = 50_000
"""Products whose boxes are held against each other at once; keeps the working memory near 20 MB."""


@dataclass(frozen=True, slots=True, eq=False)
class OwnCells:
    """Cells over the drives that move one part, of the machine ``reduced`` to the groups of that part."""

    reduced: Submechanism
    cells: Cells

    def settings(self, number: int) -> Floats:
        """The centre (d,) of a cell in drive units of the whole machine; other drives are at rest."""
        return self.reduced.widened(self.cells.settings[number])

    def half(self, number: int) -> Floats:
        """Half of its widths (d,); 0 along other drives."""
        return self.reduced.widened(self.cells.half[number])


@dataclass(frozen=True, slots=True, eq=False)
class ProductCell:
    """A cell, by its number, of one set of drives and a cell of another set: one cell over both."""

    first: OwnCells
    second: OwnCells
    numbers: tuple[int, int]

    @property
    def settings(self) -> Floats:
        """Its centre (d,) in drive units of the whole machine; drives of neither set are at rest."""
        first, second = self.numbers
        return self.first.settings(first) + self.second.settings(second)

    @property
    def half(self) -> Floats:
        """Half of its widths (d,); 0 along drives of neither set."""
        first, second = self.numbers
        return self.first.half(first) + self.second.half(second)


@dataclass(frozen=True, slots=True, eq=False)
class SweptSide:
    """One part of a pair in the N roots of the cells over its own drives: the box (N, 2, 3) mm that holds it in each.

    ``rounding`` (N,) mm: how far double precision can shift it.
    """

    side: Side
    own: OwnCells
    boxes: Floats
    rounding: Floats


def lowest_product(a: SweptSide, b: SweptSide) -> tuple[ProductCell, Bounds]:
    """The product of roots in which boxes leave the smallest gap, and that one bound, which holds in all of them.

    ValueError where either part has no roots.
    """
    errors, count = a.side.surface_error + b.side.surface_error, len(a.boxes) * len(b.boxes)
    lowest: list[tuple[float, int, Bounds]] = []
    for start in range(0, count, PRODUCTS_AT_ONCE):
        first, second = np.divmod(np.arange(start, min(start + PRODUCTS_AT_ONCE, count)), len(b.boxes))
        gaps = box_gaps(a.boxes[first], b.boxes[second])
        rounding = np.maximum(a.rounding[first], b.rounding[second])
        bounds = lower_bound(Method.SWEPT_BOXES, gaps, STILL, errors, rounding)
        row = np.argmin(bounds.lower)
        lowest.append((float(bounds.lower[row]), start + int(row), bounds.take(np.array([row]))))
    _, number, bound = min(lowest, key=lambda one: one[0])
    first_row, second_row = divmod(number, len(b.boxes))
    numbers = int(a.own.cells.roots[first_row]), int(b.own.cells.roots[second_row])
    return ProductCell(a.own, b.own, numbers), bound
