"""Derivatives of rows as they are stored: of each row those over its two bodies only, since all others are zero."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats, Ids


@dataclass(frozen=True, slots=True, eq=False)
class RowSlopes:
    """Slopes (N, rows, 6) of all rows over (shift, scale · rotation) of the bodies ``ends`` (2, rows), one of two each.

    The ground is a body too; its slopes are in no matrix.
    """

    ends: Ids
    first: Floats
    second: Floats

    def __len__(self) -> int:
        return len(self.first)

    def take(self, index: Ids | NDArray[np.bool_]) -> RowSlopes:
        """Those of the postures at ``index``."""
        return RowSlopes(self.ends, self.first[index], self.second[index])

    def put(self, index: Ids, other: RowSlopes) -> None:
        """Write ``other`` in the place of those at ``index``."""
        self.first[index], self.second[index] = other.first, other.second

    def times(self, unknowns: Floats) -> Floats:
        """The derivative's product (N, rows, q) with ``unknowns`` (N, 6 (B - 1), q)."""
        count, total, columns = unknowns.shape
        every = np.zeros((count, total // 6 + 1, 6, columns))
        every[:, 1:] = unknowns.reshape(count, -1, 6, columns)
        parts = zip((self.first, self.second), self.ends, strict=True)
        first, second = ((slopes[..., None, :] @ every[:, bodies])[..., 0, :] for slopes, bodies in parts)
        return np.asarray(first + second)


class Submatrices:
    """Of k lots of rows (k, r) and of columns (k, c), whole bodies each, the matrices of slopes (N, k, r, c)."""

    def __init__(self, ends: Ids, rows: Ids, columns: Ids) -> None:
        self._shape = (*rows.shape, columns.shape[1] // 6, 6)
        bodies = columns[:, ::6] // 6 + 1
        self._first, self._second = (_entries(own, rows, bodies) for own in ends)

    def of(self, slopes: RowSlopes) -> Floats:
        """The matrices at each posture, each in one piece of memory."""
        lots, rows, places, _ = self._shape
        found = np.zeros((len(slopes), lots * rows * places, 6))
        (entry, source), (other_entry, other_source) = self._first, self._second
        found[:, entry] = slopes.first.take(source, axis=1)
        found[:, other_entry] += slopes.second.take(other_source, axis=1)
        return found.reshape(len(slopes), lots, rows, 6 * places)


def _entries(own: Ids, rows: Ids, bodies: Ids) -> tuple[Ids, Ids]:
    """Number of the entry, counted over lots, rows and bodies, and row of all: of each row's body that is its lot's."""
    lot, row, place = np.nonzero(own[rows][:, :, None] == bodies[:, None, :])
    return (lot * rows.shape[1] + row) * bodies.shape[1] + place, rows[lot, row]
