"""The motion at a posture, expanded: exact derivatives, and how far a miss of the rows can move a body."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats
from assembly.motion.assembling import REDUNDANT_RESIDUAL
from assembly.motion.mechanism import Mechanism, Solved
from assembly.motion.rows import Rates, Reach

ROUNDING = 1 + 1e-9
"""Bounds are widened by this factor against floating-point error in J⁻¹ and the sums."""


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
    """How fast (N, d) and (N, d, d) mm any row, the redundant ones too, parts as the others are followed."""
    scale: float


class RowGroups:
    """Chosen rows that are parts of one vector: its length is bounded as a whole."""

    def __init__(self, mechanism: Mechanism) -> None:
        numbers = mechanism.equations.groups[mechanism.system.chosen]
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
    every = equations.jacobian(posture)
    jacobian = every[:, system.chosen]
    inverse = system.solve(jacobian, np.broadcast_to(np.eye(len(system.chosen)), jacobian.shape))
    rates = -inverse @ equations.by_settings()[system.chosen]
    shift, turn = by_body(rates, equations.scale)
    count, drives = rates.shape[0], rates.shape[2]
    curvature = equations.curvature(posture, Rates(shift, turn)).reshape(count, -1, drives * drives)
    bends = -(inverse @ curvature[:, system.chosen]).reshape(count, -1, drives, drives)
    breaks = np.abs(every @ rates + equations.by_settings())
    curved_breaks = np.abs(every @ bends.reshape(count, -1, drives * drives) + curvature)
    missed = groups.lengths(equations.values(posture, solved.settings)[:, system.chosen])
    parting = breaks.max(axis=1), curved_breaks.max(axis=1).reshape(count, drives, drives)
    return Expansion(rates, bends, groups.gains(inverse), missed, parting, equations.scale)


def holds_together(expansion: Expansion, half: Floats) -> NDArray[np.bool_]:
    """Whether the rows that were not chosen hold through the cell too: else only its centre can be assembled."""
    first, second = expansion.parting
    parted = (first * half).sum(axis=1) + 0.5 * np.einsum("nij,ni,nj->n", second, half, half)
    return np.asarray(parted <= REDUNDANT_RESIDUAL)


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
