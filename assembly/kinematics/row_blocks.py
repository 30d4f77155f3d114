"""Which rows are solved together, and in which order: blocks that depend on earlier blocks only.

Order of work: joints → rows (``joint_rows``) → rank at rest (``freedoms``) → an independent choice of as many rows
as unknowns, which gives the blocks → the redundant rows join the blocks. No row is left out: rows that are
independent at rest can say the same twice elsewhere, and then a row that was redundant at rest takes over.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import networkx as nx
import numpy as np
from numpy.typing import NDArray
from scipy.linalg import qr
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import maximum_bipartite_matching

from assembly.geometry.mesh import Floats, Ids
from assembly.kinematics.block_stacks import BlockStacks
from assembly.kinematics.block_stacks import RowBlock as RowBlock
from assembly.kinematics.bodies import GROUND
from assembly.kinematics.inverse_loss import InverseLoss
from assembly.kinematics.row_slopes import RowSlopes
from assembly.kinematics.system import Equations


def choose_rows(equations: Equations, jacobian: Floats, must: NDArray[np.bool_]) -> Ids:
    """As many independent rows of ``jacobian`` (rows, n) as it has columns; rows marked ``must`` come first.

    Rows that others imply are not taken.

    Bodies that rows to bodies already settled hold on their own (a driven arm) are settled first, with
    such rows; this keeps the blocks small.
    """
    needed = equations.needed
    return np.sort(needed[_choose(equations, jacobian[needed], must[needed], needed)])


def _choose(equations: Equations, jacobian: Floats, must: NDArray[np.bool_], needed: Ids) -> Ids:
    first, second = equations.first[needed], equations.second[needed]
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
    return np.array(taken + _independent(jacobian, others, waiting, must), dtype=np.intp)


def _own_rows(first: Ids, second: Ids, settled: NDArray[np.bool_], body: int) -> Ids:
    return np.flatnonzero(((first == body) & settled[second]) | ((second == body) & settled[first]))


def _held(jacobian: Floats, rows: Ids, body: int) -> bool:
    """Whether ``rows`` hold the six unknowns of ``body`` firmly."""
    own = jacobian[rows][:, _columns([body])]
    return len(rows) >= 6 and bool(np.linalg.svd(own, compute_uv=False)[-1] > 1e-3)


def _independent(jacobian: Floats, rows: Ids, bodies: list[int], must: NDArray[np.bool_]) -> list[int]:
    weights = np.where(must[rows], 1e3, 1.0)[:, None]
    columns = _columns(bodies)
    if not len(columns):
        return []
    _, _, order = qr((weights * jacobian[rows][:, columns]).T, mode="economic", pivoting=True)
    return [int(row) for row in rows[order[: len(columns)]]]


def _columns(bodies: list[int]) -> Ids:
    return np.array([6 * (body - 1) + k for body in bodies for k in range(6)], dtype=np.intp)


def block_order(equations: Equations, chosen: Ids, ground: int = GROUND) -> tuple[RowBlock, ...]:
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
        blocks.append(RowBlock(rows, columns, earlier))
        done[columns] = True
    return tuple(blocks)


def with_redundant_rows(equations: Equations, chosen: Ids) -> tuple[RowBlock, ...]:
    """The blocks of the ``chosen`` rows, with each other row in the last block that it speaks of.

    Rows that others imply at every posture are in no block. A block can lose its rank where only a redundant row of
    a later one still tells its unknowns (coupled wheels at their dead centre), so all that such a row depends on is
    solved in one with it. Firm blocks stay on their own.
    """
    square = block_order(equations, chosen)
    touched = _touched(equations, np.arange(len(equations.owners)), GROUND)
    touched[np.setdiff1d(np.arange(len(touched)), equations.needed)] = False
    block_of = _numbered(square, len(chosen))
    firm = _firm(equations, chosen, square)
    hangs_on: nx.DiGraph[int] = nx.DiGraph()
    hangs_on.add_nodes_from(range(len(square)))
    together: nx.Graph[int] = nx.Graph()
    together.add_nodes_from(range(len(square)))
    for number, block in enumerate(square):
        hangs_on.add_edges_from((number, int(other)) for other in set(block_of[block.earlier]) - firm)
    for row in np.setdiff1d(np.arange(len(touched)), chosen):
        loose = set(block_of[touched[row]].tolist()) - firm
        nx.add_path(together, sorted(loose.union(*(nx.descendants(hangs_on, number) for number in loose))))
    groups = sorted(nx.connected_components(together), key=lambda group: (not group <= firm, min(group)))
    columns = [np.sort(np.concatenate([square[number].columns for number in group])) for group in groups]
    return _tall(touched, columns, [group <= firm for group in groups])


def _firm(equations: Equations, chosen: Ids, square: tuple[RowBlock, ...]) -> set[int]:
    """Blocks of one body that its joint and drives to one firm body or the ground hold: at no posture do they fail."""
    firm, settled = set(), {GROUND}
    for number, block in enumerate(square):
        rows = chosen[block.rows]
        ends = set(equations.first[rows].tolist()) | set(equations.second[rows].tolist())
        own = set((block.columns // 6 + 1).tolist())
        if len(own) == 1 and len(block.columns) == 6 and len(ends) == 2 and ends - own <= settled:
            firm.add(number)
            settled |= own
    return firm


def _numbered(square: tuple[RowBlock, ...], unknowns: int) -> Ids:
    """Number (n,) of the block in which each unknown is solved."""
    numbers = np.zeros(unknowns, dtype=np.intp)
    for number, block in enumerate(square):
        numbers[block.columns] = number
    return numbers


def _tall(touched: NDArray[np.bool_], columns: list[Ids], firm: list[bool]) -> tuple[RowBlock, ...]:
    """One block for each group of ``columns``, in this order, with all rows of which it is the last."""
    position = np.zeros(touched.shape[1], dtype=np.intp)
    for number, own in enumerate(columns):
        position[own] = number
    last = np.where(touched, position, -1).max(axis=1, initial=-1)
    blocks = []
    for number, own in enumerate(columns):
        rows = np.flatnonzero(last == number)
        blocks.append(
            RowBlock(rows, own, np.flatnonzero(touched[rows].any(axis=0) & (position < number)), firm[number])
        )
    return tuple(blocks)


def _touched(equations: Equations, chosen: Ids, ground: int) -> NDArray[np.bool_]:
    touched = np.zeros((len(chosen), 6 * len(equations.bodies)), dtype=bool)
    for ends in (equations.first[chosen], equations.second[chosen]):
        touched[np.arange(len(chosen))[:, None], 6 * ends[:, None] + np.arange(6)] = True
    return np.delete(touched, 6 * ground + np.arange(6), axis=1)


@dataclass(frozen=True, slots=True, eq=False)
class System:
    """All equations, as many independent ones as unknowns (``chosen``, at rest), and the blocks over all rows."""

    equations: Equations
    chosen: Ids
    blocks: tuple[RowBlock, ...]
    _seen_from: dict[int, NDArray[np.bool_]] = field(default_factory=dict)
    _stacks: list[BlockStacks] = field(default_factory=list)
    _loss: list[InverseLoss] = field(default_factory=list)

    def drives_between(self, body: int, other: int) -> NDArray[np.bool_]:
        """(d,) whether a drive can move the two bodies against each other at all, anywhere.

        Rows speak of bodies' places against each other, so any body may be taken for the ground; which blocks then
        lead from a drive to the other body is a matter of which rows speak of which bodies, not of the posture.
        """
        for ground in (body, other):
            if ground not in self._seen_from:
                self._seen_from[ground] = self._influences(ground)
        return np.asarray(self._seen_from[body][other] & self._seen_from[other][body])

    def block_drives(self) -> NDArray[np.bool_]:
        """(blocks, d) the drives on which each block hangs: those of its own rows and of the blocks that it needs."""
        moves = self.equations.ratios != 0
        hangs_on = np.zeros((len(self.blocks), moves.shape[1]), dtype=bool)
        of_column = np.zeros((6 * len(self.equations.bodies), moves.shape[1]), dtype=bool)
        for number, block in enumerate(self.blocks):
            hangs_on[number] = moves[block.rows].any(axis=0) | of_column[block.earlier].any(axis=0)
            of_column[block.columns] = hangs_on[number]
        return hangs_on

    def drives_together(self, drives: tuple[int, ...]) -> list[tuple[int, ...]]:
        """``drives`` in sets, no block depending on drives of two of them."""
        graph: nx.Graph[int] = nx.Graph()
        graph.add_nodes_from(drives)
        for own in self.block_drives():
            nx.add_path(graph, [drive for drive in drives if own[drive]])
        return sorted(tuple(sorted(together)) for together in nx.connected_components(graph))

    def _influences(self, ground: int) -> NDArray[np.bool_]:
        ratios = self.equations.ratios[self.chosen]
        others = np.delete(np.arange(len(self.equations.bodies)), ground)
        moved = np.zeros((len(self.equations.bodies), ratios.shape[1]), dtype=bool)
        for block in block_order(self.equations, self.chosen, ground):
            own = (ratios[block.rows] != 0).any(axis=0)
            earlier = moved[others[np.unique(block.earlier // 6)]].any(axis=0)
            moved[others[np.unique(block.columns // 6)]] |= own | earlier
        return moved

    @property
    def stacks(self) -> BlockStacks:
        """The blocks as they are solved."""
        if not self._stacks:
            self._stacks.append(BlockStacks(self.blocks, self.equations.ends, self.equations.groups))
        return self._stacks[0]

    @property
    def loss(self) -> InverseLoss:
        """What rounding in their left inverse may add."""
        if not self._loss:
            self._loss.append(InverseLoss(self.stacks))
        return self._loss[0]

    def solve(self, slopes: RowSlopes, right: Floats) -> Floats:
        """Solve all rows for right sides (N, rows, q), each block by least squares where it has rows to spare.

        Singular blocks give NaN, never an exception.
        """
        return self.stacks.solve(slopes, right)

    def stays_regular(self, before: RowSlopes, after: RowSlopes) -> NDArray[np.bool_]:
        """Whether (N,) every block keeps its rank on the way between two postures near each other.

        Unlike the sign of a determinant, this sees two loops of one block that turn over at once. Firm blocks never
        lose their rank.
        """
        return self.stacks.stays_regular(before, after)
