"""The motion at a posture, expanded: exact derivatives, and how far a miss of the rows can move a body."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats
from assembly.kinematics.assembling import REDUNDANT_RESIDUAL
from assembly.kinematics.closure import Closure, closure_of, tall_blocks
from assembly.kinematics.mechanism import Mechanism, Solved
from assembly.kinematics.rows import Rates, Reach

ROUNDING = 1 + 1e-9
"""Bounds are widened by this factor against floating-point error in the inverse and the sums."""


@dataclass(frozen=True, slots=True, eq=False)
class Expansion:
    """Exact derivatives at the centres, and how far a miss of the rows can move each body.

    ``rates`` (N, n, d) and ``bends`` (N, n, d, d): first and second derivatives of the unknowns. ``gain``
    (N, 2 (B - 1), g): length of the shift, then of the scaled rotation, of every body per mm of every group of rows.
    ``missed`` (N, g) mm: what the rows miss at the centres.
    """

    rates: Floats
    bends: Floats
    gain: Floats
    missed: Floats
    parting: tuple[Floats, Floats]
    """How fast (N, d) and (N, d, d) mm any row parts as the motion is followed: 0 but for rows that contradict."""
    scale: float
    loss: Floats
    """(N,) share of a motion that rounding in the inverse may add to it; grows with the condition of the rows."""
    closure: Closure | None = None
    """What redundant rows miss; None where none are."""

    def parted(self, half: Floats) -> Floats:
        """By how much (N,) mm any row parts to second order in cells of half-widths ``half`` (N, d)."""
        first, second = self.parting
        return np.asarray((first * half).sum(axis=1) + 0.5 * np.einsum("nij,ni,nj->n", second, half, half))


class RowGroups:
    """Rows that are parts of one vector: its length is bounded as a whole."""

    def __init__(self, mechanism: Mechanism) -> None:
        numbers = mechanism.equations.groups
        self.starts = np.flatnonzero(np.diff(numbers, prepend=-1))

    def longest(self, rows: Floats) -> Floats:
        """Bound (N, g) of each vector from equal bounds (N, rows) of its rows."""
        return np.asarray(np.maximum.reduceat(rows, self.starts, axis=1))

    def lengths(self, rows: Floats) -> Floats:
        """Length (N, g) of each vector from its rows (N, rows)."""
        return np.asarray(np.sqrt(np.add.reduceat(rows**2, self.starts, axis=1)))

    def gains(self, inverse: Floats) -> Floats:
        """Bounds (N, 2 (B - 1), g) on the spectral norm of each three unknowns by each group of rows.

        The smaller of the Frobenius norm and the root of the product of largest column and row sums.
        """
        count, unknowns, rows = inverse.shape
        size = np.abs(inverse).reshape(count, unknowns // 3, 3, rows)
        whole = np.sqrt(np.add.reduceat((size**2).sum(axis=2), self.starts, axis=2))
        columns = np.maximum.reduceat(size.sum(axis=2), self.starts, axis=2)
        lines = np.add.reduceat(size, self.starts, axis=3).max(axis=2)
        return np.asarray(ROUNDING * np.minimum(whole, np.sqrt(columns * lines)))


def expand(mechanism: Mechanism, solved: Solved, groups: RowGroups) -> Expansion:
    """Expand the motion at each of the N postures of ``solved``."""
    system, equations, posture = mechanism.system, mechanism.equations, solved.posture
    jacobian = equations.jacobian(posture)
    size = jacobian.shape[1]
    inverse = system.solve(jacobian, np.broadcast_to(np.eye(size), (len(jacobian), size, size)))
    rates = -inverse @ equations.by_settings()
    shift, turn = by_body(rates, equations.scale)
    count, drives = rates.shape[0], rates.shape[2]
    curvature = equations.curvature(posture, Rates(shift, turn)).reshape(count, -1, drives * drives)
    bends = -(inverse @ curvature).reshape(count, -1, drives, drives)
    breaks = np.linalg.norm(jacobian @ rates + equations.by_settings(), axis=1)
    bend_breaks = np.linalg.norm(jacobian @ bends.reshape(count, -1, drives * drives) + curvature, axis=1)
    missed = groups.lengths(equations.values(posture, solved.settings))
    parting = breaks, bend_breaks.reshape(count, drives, drives)
    loss = _loss(jacobian, inverse)
    gains = (1 + loss)[:, None, None] * groups.gains(inverse)
    closure = closure_of(tall_blocks(system), groups.starts, jacobian, inverse, loss)
    return Expansion(rates, bends, gains, missed, parting, equations.scale, loss, closure)


def _loss(jacobian: Floats, inverse: Floats) -> Floats:
    """Bound (N,) on the norm of 1 - C J, for the computed left inverse C of J (N, m, n).

    What is left of C J is worked out, and the rounding of that product, m · ε · |C| |J|, is added (Higham 2002, from
    memory): the inverse is judged by what it does, however badly conditioned J is.
    """
    off = np.linalg.norm(inverse @ jacobian - np.eye(jacobian.shape[2]), axis=(1, 2))
    sizes = np.linalg.norm(inverse, axis=(1, 2)) * np.linalg.norm(jacobian, axis=(1, 2))
    return np.asarray(off + 2 * jacobian.shape[1] * np.finfo(np.float64).eps * sizes)


def holds_together(expansion: Expansion, half: Floats, residual: Floats) -> NDArray[np.bool_]:
    """Whether all rows, the redundant ones too, hold to second order through the cell, and not at its centre only.

    What rows miss at the centre, ``residual`` (N,) mm, counts with it. What comes after the second order is bounded
    in ``closure``.
    """
    return np.asarray(residual + expansion.parted(half) <= REDUNDANT_RESIDUAL)


def applied(expansion: Expansion, bounds: Floats) -> Floats:
    """How far (N, 2 (B - 1)) bodies can move where groups of rows miss by ``bounds`` (N, g) mm."""
    return np.asarray((expansion.gain @ bounds[..., None])[..., 0])


def lengths_of(unknowns: Floats) -> Floats:
    """Lengths (N, 2 (B - 1), ...) of shifts and scaled rotations from unknowns (N, n, ...)."""
    count, total, *others = unknowns.shape
    return np.asarray(np.linalg.norm(unknowns.reshape(count, total // 3, 3, *others), axis=2))


def by_body(unknowns: Floats, scale: float) -> tuple[Floats, Floats]:
    """Unknowns (N, n, ...) as shifts and rotation vectors (N, B, ..., 3) of all bodies, the ground's zero first."""
    count, _, *others = unknowns.shape
    parts = unknowns.reshape(count, -1, 6, *others)
    parts = np.moveaxis(np.concatenate([np.zeros((count, 1, 6, *others)), parts], axis=1), 2, -1)
    return parts[..., :3], parts[..., 3:] / scale


def reach_of(lengths: Floats, scale: float) -> Reach:
    """How far bodies get, from bounds (N, 2 (B - 1)) on their shifts and scaled rotations; the ground stays."""
    ground = np.zeros((len(lengths), 1))
    shift, turn = lengths[:, 0::2], lengths[:, 1::2] / scale
    return Reach(np.concatenate([ground, shift], axis=1), np.concatenate([ground, turn], axis=1))
