"""A machine as one square system of equations, solved block by block for many settings at a time.

Order of work: joints → rows (``joint_rows``) → rank at rest (``freedoms``) → an independent choice of as
many rows as unknowns → blocks in the order in which they can be solved one after another.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import networkx as nx
import numpy as np
from numpy.typing import NDArray
from scipy.linalg import qr
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import maximum_bipartite_matching

from assembly.geometry.mesh import Floats
from assembly.motion.bodies import GROUND, Bodies
from assembly.motion.rows import Posture, Rates, Reach, Rows

Order = NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Family:
    """Rows of one kind: the equations, whom they belong to, and what each drive asks of them."""

    rows: Rows
    owners: tuple[str, ...]
    """The joint, drive or idle body behind each row."""
    ratios: Floats
    """(m, d): target per unit of each drive's setting, in rad or mm."""
    weight: float = 1.0
    """How much the rows' values fall per unit of target."""
    groups: tuple[int, ...] = ()
    """Rows next to each other with one number are one vector seen along square directions: the family's bounds hold
    for its length, not only for each row. Empty: every row stands alone."""

    def __len__(self) -> int:
        return len(self.owners)

    def spans(self, half: Floats) -> Floats:
        """How far targets (N, m) vary, rad or mm, where settings vary by ``half`` (N, d)."""
        return half @ np.abs(self.ratios).T


@dataclass(frozen=True, slots=True, eq=False)
class Equations:
    """All rows of a machine in one order: families one after another."""

    families: tuple[Family, ...]
    bodies: Bodies
    scale: float
    """mm: turns radians into lengths."""

    @property
    def owners(self) -> tuple[str, ...]:
        """Whom each row belongs to."""
        return tuple(owner for family in self.families for owner in family.owners)

    @property
    def groups(self) -> Order:
        """Number (rows,) of the vector that each row is a part of."""
        numbers, start = [], 0
        for family in self.families:
            own = np.unique(family.groups or range(len(family)), return_inverse=True)[1]
            numbers.append(start + own)
            start += int(own.max()) + 1
        return np.concatenate(numbers)

    @property
    def first(self) -> Order:
        """First body of each row."""
        return np.concatenate([family.rows.first for family in self.families])

    @property
    def second(self) -> Order:
        """Second body of each row."""
        return np.concatenate([family.rows.second for family in self.families])

    @property
    def ratios(self) -> Floats:
        """(rows, d): what each drive asks of each row, per unit of setting."""
        return np.concatenate([family.ratios for family in self.families])

    def values(self, posture: Posture, settings: Floats) -> Floats:
        """Misses (N, rows) mm at ``settings`` (N, d), drive units turned into rad and mm."""
        return np.concatenate(
            [family.rows.values(posture, settings @ family.ratios.T) for family in self.families], axis=1
        )

    def jacobian(self, posture: Posture) -> Floats:
        """Derivatives (N, rows, 6 (B - 1)) over (shift, scale · rotation) of every body but the ground."""
        count = len(posture)
        full = np.zeros((count, len(self.owners), 6 * len(self.bodies)))
        start = 0
        for family in self.families:
            slopes = family.rows.slopes(posture)
            rows = (start + np.arange(len(family)))[:, None]
            six = np.arange(6)
            full[:, rows, 6 * family.rows.first[:, None] + six] += slopes.first
            full[:, rows, 6 * family.rows.second[:, None] + six] += slopes.second
            start += len(family)
        return full[:, :, 6:]

    def by_settings(self) -> Floats:
        """Derivative (rows, d) of the misses over the settings; the same everywhere."""
        return -np.concatenate([family.weight * family.ratios for family in self.families])

    def second_order(self, posture: Posture, reach: Reach, half: Floats) -> Floats:
        """Bound (N, rows) mm on what the slopes leave out within ``reach`` and half-widths ``half`` (N, d)."""
        return np.concatenate(
            [family.rows.second_order(posture, reach, family.spans(half)) for family in self.families], axis=1
        )

    def curvature(self, posture: Posture, rates: Rates) -> Floats:
        """Second derivatives (N, rows, d, d) mm of the misses along motions at constant ``rates``."""
        return np.concatenate([family.rows.curvature(posture, rates) for family in self.families], axis=1)

    def third_order(self, posture: Posture, linear: Reach, rest: Reach, half: Floats) -> Floats:
        """Bound (N, rows) mm on what slopes and curvature leave out for motion ``linear`` and up to ``rest`` more."""
        return np.concatenate(
            [family.rows.third_order(posture, linear, rest, family.spans(half)) for family in self.families], axis=1
        )


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """Rows and columns of one step of the block order; ``earlier`` are the columns solved before that it needs."""

    rows: Order
    columns: Order
    earlier: Order


def choose_rows(equations: Equations, jacobian: Floats, must: NDArray[np.bool_]) -> Order:
    """As many independent rows of ``jacobian`` (rows, n) as it has columns; rows marked ``must`` come first.

    Bodies that rows to bodies already settled hold on their own (a driven arm) are settled first, with
    such rows; this keeps the blocks small.
    """
    first, second = equations.first, equations.second
    settled = np.zeros(len(equations.bodies), dtype=bool)
    settled[GROUND] = True
    taken: list[int] = []
    waiting = list(range(1, len(equations.bodies)))
    while waiting:
        alone = next((body for body in waiting if _held(jacobian, _own_rows(first, second, settled, body), body)), None)
        if alone is None:
            break
        taken += _independent(jacobian, _own_rows(first, second, settled, alone), [alone], must)
        settled[alone] = True
        waiting.remove(alone)
    others = np.flatnonzero(~(settled[first] & settled[second]))
    return np.sort(np.array(taken + _independent(jacobian, others, waiting, must), dtype=np.intp))


def _own_rows(first: Order, second: Order, settled: NDArray[np.bool_], body: int) -> Order:
    return np.flatnonzero(((first == body) & settled[second]) | ((second == body) & settled[first]))


def _held(jacobian: Floats, rows: Order, body: int) -> bool:
    """Whether ``rows`` hold the six unknowns of ``body`` firmly."""
    own = jacobian[rows][:, _columns([body])]
    return len(rows) >= 6 and bool(np.linalg.svd(own, compute_uv=False)[-1] > 1e-3)


def _independent(jacobian: Floats, rows: Order, bodies: list[int], must: NDArray[np.bool_]) -> list[int]:
    weights = np.where(must[rows], 1e3, 1.0)[:, None]
    columns = _columns(bodies)
    if not len(columns):
        return []
    _, _, order = qr((weights * jacobian[rows][:, columns]).T, mode="economic", pivoting=True)
    return [int(row) for row in rows[order[: len(columns)]]]


def _columns(bodies: list[int]) -> Order:
    return np.array([6 * (body - 1) + k for body in bodies for k in range(6)], dtype=np.intp)


def block_order(equations: Equations, chosen: Order, ground: int = GROUND) -> tuple[Block, ...]:
    """Split the square system into the smallest blocks that can be solved one after another, seen from ``ground``.

    Uses which bodies each row speaks of, not the values at one posture, so it holds everywhere.
    Dulmage and Mendelsohn 1958 (from memory): matching, then strongly connected components.
    """
    touched = _touched(equations, chosen, ground)
    row_of = maximum_bipartite_matching(csr_matrix(touched), perm_type="row")
    needs: nx.DiGraph[int] = nx.DiGraph()
    needs.add_nodes_from(range(len(chosen)))
    for column, row in enumerate(row_of):
        needs.add_edges_from((int(other), column) for other in np.flatnonzero(touched[row]))
    order = nx.condensation(needs)
    blocks, done = [], np.zeros(len(chosen), dtype=bool)
    for node in nx.lexicographical_topological_sort(order, key=lambda node: min(order.nodes[node]["members"])):
        columns = np.sort(np.fromiter(order.nodes[node]["members"], dtype=np.intp))
        rows = np.sort(row_of[columns]).astype(np.intp)
        earlier = np.flatnonzero(touched[rows].any(axis=0) & done)
        blocks.append(Block(rows, columns, earlier))
        done[columns] = True
    return tuple(blocks)


def _touched(equations: Equations, chosen: Order, ground: int) -> NDArray[np.bool_]:
    touched = np.zeros((len(chosen), 6 * len(equations.bodies)), dtype=bool)
    for ends in (equations.first[chosen], equations.second[chosen]):
        touched[np.arange(len(chosen))[:, None], 6 * ends[:, None] + np.arange(6)] = True
    return np.delete(touched, 6 * ground + np.arange(6), axis=1)


@dataclass(frozen=True, slots=True, eq=False)
class System:
    """The square system: all equations, the chosen independent rows and their blocks."""

    equations: Equations
    chosen: Order
    blocks: tuple[Block, ...]
    _seen_from: dict[int, NDArray[np.bool_]] = field(default_factory=dict)

    def drives_between(self, body: int, other: int) -> NDArray[np.bool_]:
        """(d,) whether a drive can move the two bodies against each other at all, anywhere.

        Rows speak of bodies' places against each other, so any body may be taken for the ground; which blocks then
        lead from a drive to the other body is a matter of which rows speak of which bodies, not of the posture.
        """
        if body not in self._seen_from:
            self._seen_from[body] = self._influences(body)
        return np.asarray(self._seen_from[body][other])

    def _influences(self, ground: int) -> NDArray[np.bool_]:
        ratios = self.equations.ratios[self.chosen]
        others = np.delete(np.arange(len(self.equations.bodies)), ground)
        moved = np.zeros((len(self.equations.bodies), ratios.shape[1]), dtype=bool)
        for block in block_order(self.equations, self.chosen, ground):
            own = (ratios[block.rows] != 0).any(axis=0)
            earlier = moved[others[np.unique(block.earlier // 6)]].any(axis=0)
            moved[others[np.unique(block.columns // 6)]] |= own | earlier
        return moved

    def solve(self, jacobian: Floats, right: Floats) -> Floats:
        """Solve the chosen rows (N, n, n) for right sides (N, n, k); singular blocks give NaN, never an exception."""
        solution = np.zeros_like(right)
        for block in self.blocks:
            rows = right[:, block.rows]
            if len(block.earlier):
                rows = rows - jacobian[:, block.rows[:, None], block.earlier] @ solution[:, block.earlier]
            solution[:, block.columns] = _solved(jacobian[:, block.rows[:, None], block.columns], rows)
        return solution

    def determinants(self, jacobian: Floats) -> Floats:
        """Signs and logarithms (N, blocks, 2) of the blocks' determinants; a flipped sign is a passed dead centre."""
        pairs = [np.linalg.slogdet(jacobian[:, block.rows[:, None], block.columns]) for block in self.blocks]
        return np.asarray(np.stack([np.stack(pair, axis=-1) for pair in pairs], axis=1), dtype=np.float64)


def _solved(matrices: Floats, right: Floats) -> Floats:
    try:
        return np.asarray(np.linalg.solve(matrices, right), dtype=np.float64)
    except np.linalg.LinAlgError:
        solved = np.full_like(right, np.nan)
        for index, (matrix, column) in enumerate(zip(matrices, right, strict=True)):
            try:
                solved[index] = np.linalg.solve(matrix, column)
            except np.linalg.LinAlgError:
                continue
        return solved
