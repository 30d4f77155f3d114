"""Linear algebra of stacks of matrices, each rounded alike whatever else is in the stack."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats

NEAREST_SINGULAR = 0.15
"""Smallest eigenvalue that a derivative may have on the way, as a share of what it is before."""


def stays_regular(before: Floats, after: Floats) -> NDArray[np.bool_]:
    """Whether (N,) matrices (N, m, n), m >= n, keep their rank on the straight way from ``before`` to ``after``.

    With C a left inverse of A, what is before, A + t (B - A) keeps its rank for all t from 0 to 1 where C (B - A) has
    a norm well below 1 (von Neumann's series), or else where for every eigenvalue µ of C (B - A) the line from 1 to
    1 + µ stays away from 0.
    """
    change = solved(before, after - before)
    regular = _norms(change) <= 1 - NEAREST_SINGULAR
    far = np.flatnonzero(~regular)
    regular[far] = [_keeps_rank(one) for one in change[far]]
    return regular


def _keeps_rank(change: Floats) -> bool:
    """Whether 1 + t · ``change`` (n, n) stays away from singular matrices for all t from 0 to 1."""
    if not np.isfinite(change).all():
        return False
    ends = np.linalg.eigvals(change)
    share = np.clip(-ends.real / np.maximum(np.abs(ends) ** 2, 1e-300), 0.0, 1.0)
    return bool(np.abs(1 + share * ends).min() >= NEAREST_SINGULAR)


def _norms(matrices: Floats) -> Floats:
    """Bounds (N,) on the spectral norms of matrices (N, m, n); infinite where one is not finite."""
    size = np.abs(matrices)
    columns, rows = size.sum(axis=1).max(axis=1), size.sum(axis=2).max(axis=1)
    bound = np.minimum(np.sqrt((size**2).sum(axis=(1, 2))), np.sqrt(columns * rows))
    return np.where(np.isfinite(bound), bound, np.inf)


def solved(matrices: Floats, right: Floats) -> Floats:
    """Solve matrices (..., m, n), m >= n, for right sides (..., m, q), by least squares where m > n.

    NaN where singular.
    """
    if matrices.shape[-2] > matrices.shape[-1]:
        basis, matrices = np.linalg.qr(matrices)
        right = np.swapaxes(basis, -1, -2) @ right
    try:
        return np.asarray(np.linalg.solve(matrices, right), dtype=np.float64)
    except np.linalg.LinAlgError:
        solved = np.full_like(right, np.nan)
        for index in np.ndindex(matrices.shape[:-2]):
            try:
                solved[index] = np.linalg.solve(matrices[index], right[index])
            except np.linalg.LinAlgError:
                continue
        return solved
