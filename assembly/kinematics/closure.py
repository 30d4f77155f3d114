"""By how much rows that are redundant can miss anywhere in a cell: a bound, where they follow from no group of motions.

A loop that is held too often has more rows than unknowns, F(x, δ) = 0, and what ``cell_motion`` proves to exist is a
posture at which C F = 0, with C a left inverse of the derivative J at the centre. Let r be what the rows miss there.
With Q = 1 - J C, which takes all that C sees out of the rows, C r = 0 gives

    r = Q r = Q (F at the centre + (J V - D) δ + ½ (J H + curvature) δδ + third order) + Q J e,

where Q J = J (1 - C J) is rounding alone. So r is bounded by the same third order that bounds the motion, and falls
with the cube of the cell's width: cells are cut until no row can miss by more than ``CLOSURE_TOLERANCE``. Blocks with
no more rows than unknowns have a Q of 0, and hold exactly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats, Ids
from assembly.kinematics.block_stacks import BlockInverse, BlockStacks
from assembly.kinematics.row_blocks import System
from assembly.kinematics.row_slopes import RowSlopes

CLOSURE_TOLERANCE = 0.01
"""mm by which the rows of one joint may miss in a cell, for all that is proven; a cell in which it may be more is cut.
A tenth of what a close fit between a pin and its bush leaves (common practice)."""
LEAST_MISS = 1e-8
"""mm: bounds are no smaller, so that rounding does not tell cells apart."""
ROOM = 2.0
"""A cell is certified for misses this many times its own, so that it can hold what its neighbours hold."""


@dataclass(frozen=True, slots=True, eq=False)
class TallBlock:
    """The block ``number`` has rows to spare: ``rows`` (R,), ``starts`` (k,) of their groups, ``groups`` (k,).

    ``placed`` (B,): the bodies whose places depend on the block. ``moved_by`` (d,): the drives that can move bodies of
    its rows against each other; the rows depend on no others.
    """

    number: int
    rows: Ids
    starts: Ids
    groups: Ids
    placed: NDArray[np.bool_]
    moved_by: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Closure:
    """What tall blocks miss: of each, ``gains`` (N, k, g) of what the ``needs`` (g,) leave out, and ``slips`` (N,).

    ``needs``: groups of the rows on which the block hangs. ``slips``: mm that rows miss per mm of any motion, by
    rounding.
    """

    blocks: tuple[TallBlock, ...]
    needs: tuple[Ids, ...]
    gains: tuple[Floats, ...]
    slips: tuple[Floats, ...]

    def bounds(self, left_out: Floats, moved: Floats) -> Floats:
        """Bounds (N, blocks) mm on what rows of each block miss at the posture that is proven to exist.

        ``left_out`` (N, g) mm: what all groups leave out; ``moved`` (N,) mm the size of the motion.
        """
        found = [
            (gain @ left_out[:, needs, None])[..., 0].max(axis=1) + slip * moved
            for needs, gain, slip in zip(self.needs, self.gains, self.slips, strict=True)
        ]
        return LEAST_MISS + np.stack(found, axis=1)

    def by_group(self, misses: Floats, groups: int) -> Floats:
        """``misses`` (N, blocks) of each of all ``groups`` (N, g) mm; 0 for those that hold exactly."""
        spread = np.zeros((len(misses), groups))
        for block, own in zip(self.blocks, misses.T, strict=True):
            spread[:, block.groups] = np.maximum(spread[:, block.groups], own[:, None])
        return spread


def tall_blocks(system: System) -> tuple[TallBlock, ...]:
    """The blocks that have rows to spare."""
    equations, found = system.equations, []
    for number, block in enumerate(system.blocks):
        if len(block.rows) > len(block.columns):
            groups, starts = np.unique(equations.groups[block.rows], return_index=True)
            ends = np.concatenate([equations.first[block.rows], equations.second[block.rows]])
            first, *others = np.unique(ends).tolist()
            moved_by = np.any([system.drives_between(first, other) for other in others], axis=0)
            found.append(TallBlock(number, block.rows, starts, groups, _placed(system, number), moved_by))
    return tuple(found)


def _placed(system: System, number: int) -> NDArray[np.bool_]:
    """The bodies (B,) whose places depend on the block ``number``: its own, and those of blocks that need it."""
    hangs = np.zeros(6 * len(system.equations.bodies), dtype=bool)
    hangs[6 + system.blocks[number].columns] = True
    for block in system.blocks[number + 1 :]:
        hangs[6 + block.columns] = hangs[6 + block.earlier].any()
    return np.asarray(hangs.reshape(-1, 6).any(axis=1))


def closure_of(
    blocks: Sequence[TallBlock], stacks: BlockStacks, slopes: RowSlopes, inverse: BlockInverse, loss: Floats
) -> Closure | None:
    """From the derivative, its left inverse C and the ``loss`` (N, blocks) of C J.

    None where no block has rows to spare.
    """
    needs, gains, slips = [], [], []
    for block in blocks:
        stack, index = stacks.place_of(block.number)
        own, before = (matrices.of(slopes)[:, index] for matrices in (stack.own, stack.before))
        projector = -own @ inverse.of(stack)[:, index]
        if stack.earlier.size:
            projector -= before @ inverse.known(stack)[:, index]
        projector[:, np.arange(len(block.rows)), stack.own_needs[index]] += 1.0
        squares = np.add.reduceat(np.add.reduceat(projector**2, stack.starts, axis=2), block.starts, axis=1)
        # The loss covers the rounding of C J and so, with the sizes of the same factors, that of J C.
        lost, size = loss[:, block.number], (own**2).sum(axis=(1, 2)) + (before**2).sum(axis=(1, 2))
        needs.append(stack.groups[index])
        gains.append(np.sqrt(squares) + lost[:, None, None])
        slips.append(lost * np.sqrt(size))
    return Closure(tuple(blocks), tuple(needs), tuple(gains), tuple(slips)) if blocks else None
