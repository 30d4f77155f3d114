"""Blocks of rows as they are solved: those of one shape that do not need each other as one stack of matrices.

The unknowns of a block depend on its own rows and on those of the blocks that it needs, and on no others: so of the
left inverse of the whole derivative only these columns are stored, block by block (``BlockInverse``). Memory and time
grow with the bodies that are joined, not with all there are. Each matrix is rounded alike whatever else is in its
stack.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from assembly.geometry.mesh import Floats, Ids
from assembly.kinematics.row_slopes import RowSlopes, Submatrices

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


@dataclass(frozen=True, slots=True, eq=False)
class RowBlock:
    """Rows and columns of one step of the block order; ``earlier`` are the columns solved before that it needs.

    At least as many rows as columns; more where a loop is held too often. ``firm``: it has its full rank everywhere.
    """

    rows: Ids
    columns: Ids
    earlier: Ids
    firm: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class BlockStack:
    """k blocks of r rows and n columns each: ``numbers`` (k,), ``rows`` (k, r), ``columns`` (k, n), ``earlier`` (k, e).

    ``needs`` (k, m): all rows that the unknowns depend on, in their order, those of the blocks that are needed too;
    they belong to the ``groups`` (k, g), which start at ``starts`` (g,). ``own_needs`` (k, r): which of them are the
    block's own. ``own`` and ``before`` are the derivatives of the rows over ``columns`` and ``earlier``. ``place``:
    where in a ``BlockInverse`` the stack's matrices (k, n, m) lie; ``known`` (k, e, m): where its entries for the
    earlier columns lie.
    """

    numbers: Ids
    rows: Ids
    columns: Ids
    earlier: Ids
    firm: bool
    needs: Ids
    groups: Ids
    starts: Ids
    own_needs: Ids
    own: Submatrices
    before: Submatrices
    place: slice
    known: Ids

    @property
    def shape(self) -> tuple[int, int, int]:
        """k, n and m."""
        return *self.columns.shape, self.needs.shape[1]


@dataclass(frozen=True, slots=True, eq=False)
class BlockInverse:
    """A left inverse of the derivative at N postures: ``entries`` (N, all + 1), the last of them zero."""

    entries: Floats

    def of(self, stack: BlockStack) -> Floats:
        """The unknowns of a stack's blocks by the rows that they need (N, k, n, m)."""
        return self.entries[:, stack.place].reshape(len(self.entries), *stack.shape)

    def known(self, stack: BlockStack) -> Floats:
        """The earlier unknowns that a stack's blocks need by the same rows (N, k, e, m)."""
        return np.take(self.entries, stack.known, axis=1)


class BlockStacks:
    """All blocks of a machine in stacks, each of which needs earlier ones only.

    ``ends`` (2, rows): the bodies that rows speak of; ``groups`` (rows,): the vector that each row is a part of.
    """

    def __init__(self, blocks: Sequence[RowBlock], ends: Ids, groups: Ids) -> None:
        self.blocks, self.ends, self.groups = blocks, ends, groups
        self.needed = _needed(blocks)
        """Of each block the numbers of those that it needs, itself among them."""
        self.needs = [np.sort(np.concatenate([blocks[other].rows for other in own])) for own in self.needed]
        self._of_column = {
            column: (number, row)
            for number, block in enumerate(blocks)
            for row, column in enumerate(block.columns.tolist())
        }
        self._starts, self.size = np.zeros(len(blocks), dtype=np.intp), 0
        self.every = tuple(map(self._stack, self._alike()))

    @property
    def unknowns(self) -> int:
        """How many there are."""
        return len(self._of_column)

    @cached_property
    def of_vectors(self) -> Ids:
        """The block (n / 3,) in which each shift and each rotation is solved."""
        return np.array([self._of_column[column][0] for column in range(0, self.unknowns, 3)], dtype=np.intp)

    def place_of(self, number: int) -> tuple[BlockStack, int]:
        """The stack that the block ``number`` is in, and its place there."""
        return next((stack, int(index)) for stack in self.every for index in np.flatnonzero(stack.numbers == number))

    def _alike(self) -> list[list[int]]:
        """Numbers of the blocks that go into one stack, level by level."""
        alike: dict[tuple[object, ...], list[int]] = {}
        for number, (block, level) in enumerate(zip(self.blocks, _levels(self.needed), strict=True)):
            sizes = len(block.rows), len(block.columns), len(block.earlier)
            starts = _starts(self.groups[self.needs[number]])
            alike.setdefault((level, block.firm, *sizes, len(self.needs[number]), tuple(starts)), []).append(number)
        return [alike[key] for key in sorted(alike)]

    def _stack(self, numbers: list[int]) -> BlockStack:
        start = self.size
        for number in numbers:
            self._starts[number] = self.size
            self.size += len(self.blocks[number].columns) * len(self.needs[number])
        own, needs = [self.blocks[number] for number in numbers], [self.needs[number] for number in numbers]
        rows, columns, earlier = _table([(block.rows, block.columns, block.earlier) for block in own])
        starts = _starts(self.groups[needs[0]])
        (every,) = _table([(one,) for one in needs])
        (own_needs,) = _table([(np.searchsorted(n, block.rows),) for n, block in zip(needs, own, strict=True)])
        return BlockStack(
            numbers=np.array(numbers, dtype=np.intp),
            rows=rows,
            columns=columns,
            earlier=earlier,
            firm=own[0].firm,
            needs=every,
            groups=self.groups[every[:, starts]],
            starts=starts,
            own_needs=own_needs,
            own=Submatrices(self.ends, rows, columns),
            before=Submatrices(self.ends, rows, earlier),
            place=slice(start, self.size),
            known=np.array([self._known(number) for number in numbers], dtype=np.intp),
        )

    def _known(self, number: int) -> Ids:
        """Where (e, m) the entries of the earlier columns of one block lie, by the rows that it needs; -1: zero."""
        own, earlier = self.needs[number], self.blocks[number].earlier
        known = np.full((len(earlier), len(own)), -1, dtype=np.intp)
        for line, column in enumerate(earlier.tolist()):
            other, row = self._of_column[column]
            width = len(self.needs[other])
            known[line, np.searchsorted(own, self.needs[other])] = self._starts[other] + row * width + np.arange(width)
        return known

    def solve(self, slopes: RowSlopes, right: Floats) -> Floats:
        """Solve all blocks for right sides (N, rows, q), by least squares where they have rows to spare (N, n, q)."""
        solution = np.zeros((len(slopes), self.unknowns, right.shape[2]))
        for stack in self.every:
            rows = np.take(right, stack.rows, axis=1)
            if stack.earlier.size:
                rows = rows - stack.before.of(slopes) @ np.take(solution, stack.earlier, axis=1)
            solution[:, stack.columns] = solved(stack.own.of(slopes), rows)
        return solution

    def left_inverse(self, slopes: RowSlopes) -> BlockInverse:
        """A left inverse of the derivative; NaN in the blocks that are singular and all that need them."""
        inverse = BlockInverse(np.zeros((len(slopes), self.size + 1)))
        for stack in self.every:
            blocks, rows = stack.rows.shape
            right = np.zeros((len(slopes), blocks, rows, stack.needs.shape[1]))
            right[:, np.arange(blocks)[:, None], np.arange(rows), stack.own_needs] = 1.0
            if stack.earlier.size:
                right -= stack.before.of(slopes) @ inverse.known(stack)
            inverse.of(stack)[:] = solved(stack.own.of(slopes), right)
        return inverse

    def times(self, inverse: BlockInverse, right: Floats) -> Floats:
        """The inverse's product (N, n, q) with columns ``right`` (N or 1, rows, q)."""
        product = np.zeros((len(inverse.entries), self.unknowns, right.shape[2]))
        for stack in self.every:
            product[:, stack.columns] = inverse.of(stack) @ np.take(right, stack.needs, axis=1)
        return product

    def stays_regular(self, before: RowSlopes, after: RowSlopes) -> NDArray[np.bool_]:
        """Whether (N,) every block keeps its rank on the way from the one posture to the other."""
        regular = np.ones(len(before), dtype=bool)
        for stack in self.every:
            if not stack.firm:
                one, other = (stack.own.of(slopes) for slopes in (before, after))
                own = stays_regular(one.reshape(-1, *one.shape[2:]), other.reshape(-1, *one.shape[2:]))
                regular &= own.reshape(one.shape[:2]).all(axis=1)
        return regular

    def with_needed(self, of_blocks: Floats) -> Floats:
        """Sums (N, blocks) of a figure of each block (N, blocks) over all blocks that it needs, its own included."""
        return np.asarray((self._ancestors @ of_blocks.T).T)

    @cached_property
    def _ancestors(self) -> csr_matrix:
        """Which blocks (blocks, blocks) each needs, as ones."""
        rows = np.repeat(np.arange(len(self.needed)), list(map(len, self.needed)))
        columns = [number for own in self.needed for number in sorted(own)]
        return csr_matrix((np.ones(len(rows)), (rows, columns)), shape=(len(self.needed), len(self.needed)))


def _needed(blocks: Sequence[RowBlock]) -> list[set[int]]:
    of_column: dict[int, int] = {}
    needed: list[set[int]] = []
    for number, block in enumerate(blocks):
        before = {of_column[column] for column in block.earlier.tolist()}
        needed.append({number}.union(*(needed[other] for other in before)))
        of_column.update(dict.fromkeys(block.columns.tolist(), number))
    return needed


def _levels(needed: Sequence[set[int]]) -> list[int]:
    """How many blocks come one after another before each."""
    levels: list[int] = []
    for number, own in enumerate(needed):
        levels.append(1 + max((levels[other] for other in own if other != number), default=-1))
    return levels


def _starts(groups: Ids) -> Ids:
    """Where in rows of these ``groups`` (m,), in order, each group starts."""
    return np.flatnonzero(np.diff(groups, prepend=-1))


def _table(lots: Sequence[Sequence[Ids]]) -> list[Ids]:
    """The first, second, ... of each lot as rows of one array."""
    return [np.array(column, dtype=np.intp) for column in zip(*lots, strict=True)]
