"""The motion at a posture, expanded: exact derivatives, and how far a miss of the rows can move a body."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import lengths
from assembly.kinematics.assembling import REDUNDANT_RESIDUAL
from assembly.kinematics.block_stacks import BlockInverse, BlockStack, BlockStacks
from assembly.kinematics.closure import Closure, closure_of, tall_blocks
from assembly.kinematics.mechanism import Mechanism, Solved
from assembly.kinematics.row_blocks import System
from assembly.kinematics.row_slopes import RowSlopes
from assembly.kinematics.rows import Rates, Reach

ROUNDING = 1 + 1e-9
"""Bounds are widened by this factor against floating-point error in the inverse and the sums."""


@dataclass(frozen=True, slots=True, eq=False)
class Expansion:
    """Exact derivatives at the centres, and how far a miss of the rows can move each body.

    ``rates`` (N, n, d) and ``bends`` (N, n, d, d): first and second derivatives of the unknowns. ``gains``, of each
    stack of k blocks (N, k, v, g): length of the shift, then of the scaled rotation, of the blocks' bodies per mm of
    each group of rows on which they hang. ``missed`` (N, groups) mm: what the rows miss at the centres.
    """

    stacks: BlockStacks
    rates: Floats
    bends: Floats
    gains: tuple[Floats, ...]
    missed: Floats
    parting: tuple[Floats, Floats]
    """How fast (N, d) and (N, d, d) mm any row parts as the motion is followed: 0 but for rows that contradict."""
    scale: float
    loss: Floats
    """(N, 2 (B - 1)) share of a motion of all that rounding in the inverse may add to the shift and rotation of each
    body; grows with the condition of the rows."""
    closure: Closure | None = None
    """What redundant rows miss; None where none are."""

    def parted(self, half: Floats) -> Floats:
        """By how much (N,) mm any row parts to second order in cells of half-widths ``half`` (N, d)."""
        first, second = self.parting
        return np.asarray((first * half).sum(axis=1) + 0.5 * np.einsum("nij,ni,nj->n", second, half, half))


class RowGroups:
    """Rows that are parts of one vector: its length is bounded as a whole."""

    def __init__(self, mechanism: Mechanism) -> None:
        self.starts = np.flatnonzero(np.diff(mechanism.equations.groups, prepend=-1))

    def longest(self, rows: Floats) -> Floats:
        """Bound (N, g) of each vector from equal bounds (N, rows) of its rows."""
        return np.asarray(np.maximum.reduceat(rows, self.starts, axis=1))

    def lengths(self, rows: Floats) -> Floats:
        """Length (N, g) of each vector from its rows (N, rows)."""
        return np.asarray(np.sqrt(np.add.reduceat(rows**2, self.starts, axis=1)))


def _gains(stack: BlockStack, inverse: Floats) -> Floats:
    """Bounds (N, k, n / 3, g) on the spectral norm of each three unknowns by each group of rows, from (N, k, n, m).

    The smaller of the Frobenius norm and the root of the product of largest column and row sums.
    """
    count, blocks, unknowns, rows = inverse.shape
    size = np.abs(inverse).reshape(count, blocks, unknowns // 3, 3, rows)
    whole = np.sqrt(np.add.reduceat((size**2).sum(axis=3), stack.starts, axis=3))
    columns = np.maximum.reduceat(size.sum(axis=3), stack.starts, axis=3)
    lines = np.add.reduceat(size, stack.starts, axis=4).max(axis=3)
    return np.asarray(ROUNDING * np.minimum(whole, np.sqrt(columns * lines)))


def expand(mechanism: Mechanism, solved: Solved, groups: RowGroups) -> Expansion:
    """Expand the motion at each of the N postures of ``solved``."""
    system, equations, posture = mechanism.system, mechanism.equations, solved.posture
    stacks, slopes, by_settings = system.stacks, equations.slopes(posture), equations.by_settings
    inverse = stacks.left_inverse(slopes)
    rates = -stacks.times(inverse, by_settings[None])
    shift, turn = by_body(rates, equations.scale)
    count, drives = rates.shape[0], rates.shape[2]
    curvature = equations.curvature(posture, Rates(shift, turn)).reshape(count, -1, drives * drives)
    bends = -stacks.times(inverse, curvature)
    breaks = np.linalg.norm(slopes.times(rates) + by_settings, axis=1)
    bend_breaks = np.linalg.norm(slopes.times(bends) + curvature, axis=1)
    missed = groups.lengths(equations.values(posture, solved.settings))
    loss = _loss(system, slopes, inverse)
    gains = tuple(
        (1 + loss[:, stack.numbers])[..., None, None] * _gains(stack, inverse.of(stack)) for stack in stacks.every
    )
    return Expansion(
        stacks=stacks,
        rates=rates,
        bends=bends.reshape(count, -1, drives, drives),
        gains=gains,
        missed=missed,
        parting=(breaks, bend_breaks.reshape(count, drives, drives)),
        scale=equations.scale,
        loss=loss[:, stacks.of_vectors],
        closure=closure_of(tall_blocks(system), stacks, slopes, inverse, loss),
    )


def _loss(system: System, slopes: RowSlopes, inverse: BlockInverse) -> Floats:
    """``InverseLoss`` (N, blocks) of the blocks of ``system``."""
    return system.loss.of(slopes, inverse)


def holds_together(expansion: Expansion, half: Floats, residual: Floats) -> NDArray[np.bool_]:
    """Whether all rows, the redundant ones too, hold to second order through the cell, and not at its centre only.

    What rows miss at the centre, ``residual`` (N,) mm, counts with it. What comes after the second order is bounded
    in ``closure``.
    """
    return np.asarray(residual + expansion.parted(half) <= REDUNDANT_RESIDUAL)


def applied(expansion: Expansion, bounds: Floats) -> Floats:
    """How far (N, 2 (B - 1)) bodies can move where groups of rows miss by ``bounds`` (N, groups) mm."""
    moved = np.zeros((len(bounds), expansion.stacks.unknowns // 3))
    for stack, gains in zip(expansion.stacks.every, expansion.gains, strict=True):
        own = gains @ np.take(bounds, stack.groups, axis=1)[..., None]
        moved[:, stack.columns[:, ::3] // 3] = own[..., 0]
    return moved


def lengths_of(unknowns: Floats) -> Floats:
    """Lengths (N, 2 (B - 1), ...) of shifts and scaled rotations from unknowns (N, n, ...)."""
    count, total, *others = unknowns.shape
    return np.asarray(lengths(unknowns.reshape(count, total // 3, 3, *others), axis=2))


def by_body(unknowns: Floats, scale: float) -> tuple[Floats, Floats]:
    """Unknowns (N, n, ...) as shifts and rotation vectors (N, B, ..., 3) of all bodies, the ground's zero first."""
    count, total, *others = unknowns.shape
    parts = unknowns.reshape(count, total // 6, 6, *others)
    parts = np.moveaxis(np.concatenate([np.zeros((count, 1, 6, *others)), parts], axis=1), 2, -1)
    return parts[..., :3], parts[..., 3:] / scale


def reach_of(lengths: Floats, scale: float) -> Reach:
    """How far bodies get, from bounds (N, 2 (B - 1)) on their shifts and scaled rotations; the ground stays."""
    ground = np.zeros((len(lengths), 1))
    shift, turn = lengths[:, 0::2], lengths[:, 1::2] / scale
    return Reach(np.concatenate([ground, shift], axis=1), np.concatenate([ground, turn], axis=1))
