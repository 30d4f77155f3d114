"""What rounding in a computed left inverse of the derivative may add to the motion of each block's unknowns."""

from __future__ import annotations

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.kinematics.block_stacks import BlockInverse, BlockStack, BlockStacks
from assembly.kinematics.row_slopes import RowSlopes


class InverseLoss:
    """Bounds on what 1 - C J does to a motion, block by block, for the computed left inverse C of J.

    What is left of C J is worked out, and the rounding of that product, m · ε · |C| |J|, is added (Higham 2002, from
    memory): the inverse is judged by what it does, however badly conditioned J is. The rows of C of a block's unknowns
    are not zero for the m rows that it needs only, and these speak of the bodies of the blocks that it needs only.
    """

    def __init__(self, stacks: BlockStacks) -> None:
        self.stacks = stacks
        self._products = [_Product(stacks, stack) for stack in stacks.every]
        own_rows = np.array([[len(block.rows) for block in stacks.blocks]], dtype=np.float64)
        self._rows = stacks.with_needed(own_rows)

    @property
    def largest(self) -> int:
        """Numbers in the largest product that is worked out of one posture."""
        return max((product.size for product in self._products), default=0)

    def of(self, slopes: RowSlopes, inverse: BlockInverse) -> Floats:
        """(N, blocks): shares of a motion of all that a block needs that rounding may add to its unknowns."""
        off, size, pull = (np.zeros((len(slopes), len(self.stacks.blocks))) for _ in range(3))
        both = np.concatenate([slopes.first, slopes.second], axis=1)
        row_sizes = (slopes.first**2).sum(axis=-1) + (slopes.second**2).sum(axis=-1)
        for stack, product in zip(self.stacks.every, self._products, strict=True):
            off[:, stack.numbers] = product.off(both, inverse)
            size[:, stack.numbers] = (inverse.of(stack) ** 2).sum(axis=(2, 3))
            pull[:, stack.numbers] = np.take(row_sizes, stack.rows, axis=1).sum(axis=2)
        missed, sizes, pulls = (np.sqrt(self.stacks.with_needed(one)) for one in (off, size, pull))
        return np.asarray(missed + 2 * self._rows * np.finfo(np.float64).eps * sizes * pulls)


class _Product:
    """C J of a stack's blocks, body by body: of each, the rows that speak of it are few."""

    def __init__(self, stacks: BlockStacks, stack: BlockStack) -> None:
        blocks, unknowns, width = stack.shape
        lots = [_rows_by_body(stacks, number) for number in stack.numbers.tolist()]
        bodies = max(map(len, lots))
        most = max(len(rows) for lot in lots for rows in lot.values())
        place, source = (np.full((blocks, bodies, most), fill, dtype=np.intp) for fill in (-1, 0))
        self._own = np.zeros((blocks, bodies, unknowns, 6))
        for number, lot in enumerate(lots):
            columns = stack.columns[number]
            for index, (body, rows) in enumerate(lot.items()):
                place[number, index, : len(rows)] = [row for row, _ in rows]
                source[number, index, : len(rows)] = [entry for _, entry in rows]
                self._own[number, index] = columns[:, None] == 6 * (body - 1) + np.arange(6)
        start = stack.place.start + width * (unknowns * np.arange(blocks)[:, None] + np.arange(unknowns))
        spread = start[:, None, :, None] + place[:, :, None, :]
        self._place = np.where(place[:, :, None, :] < 0, -1, spread)
        self._source, self.size = source, self._place.size

    def off(self, slopes: Floats, inverse: BlockInverse) -> Floats:
        """Sum of squares (N, k) of C J - 1; ``slopes`` (N, 2 rows, 6): over the first bodies, then over the second."""
        parts = np.take(inverse.entries, self._place, axis=1) @ np.take(slopes, self._source, axis=1)
        return np.asarray(((parts - self._own) ** 2).sum(axis=(2, 3, 4)))


def _rows_by_body(stacks: BlockStacks, number: int) -> dict[int, list[tuple[int, int]]]:
    """For each body that a block depends on, its rows: their places among those needed, and those of their slopes."""
    found: dict[int, list[tuple[int, int]]] = {}
    count = stacks.ends.shape[1]
    for place, row in enumerate(stacks.needs[number].tolist()):
        for end in range(2):
            if body := int(stacks.ends[end, row]):
                found.setdefault(body, []).append((place, row + end * count))
    return found
