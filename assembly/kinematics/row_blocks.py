"""Which rows are solved together, and in which order: blocks that depend on earlier blocks only.

Order of work: joints → rows (``joint_rows``) → rank at rest (``freedoms``) → an independent choice of as many rows
as unknowns, which gives the blocks → the redundant rows join the blocks. No row is left out: rows that are
independent at rest can say the same twice elsewhere, and then a row that was redundant at rest takes over.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import networkx as nx
import numpy as np
from scipy.linalg import qr
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import maximum_bipartite_matching

from assembly.geometry.mesh import Flags, Floats, Ids
from assembly.kinematics.block_stacks import BlockStacks
from assembly.kinematics.block_stacks import RowBlock as RowBlock
from assembly.kinematics.bodies import GROUND
from assembly.kinematics.independence import independent_groups
from assembly.kinematics.inverse_loss import InverseLoss
from assembly.kinematics.memo import Memo
from assembly.kinematics.row_slopes import RowSlopes
from assembly.kinematics.rows import Posture
from assembly.kinematics.system import Equations


def choose_rows(equations: Equations, home: Posture, must: Flags) -> Ids:
    """As many independent rows as there are unknowns, in the one posture ``home``; rows marked ``must`` come first.

    Rows that others imply are not taken.

    Bodies that rows to bodies already settled hold on their own (a driven arm) are settled first, with
    such rows; this keeps the blocks small.
    """
    slopes, needed = equations.slopes(home), np.zeros(len(must), dtype=bool)
    needed[equations.needed] = True
    taken = [np.zeros(0, dtype=np.intp)]
    for component in equations.components:
        rows = component.rows[needed[component.rows]]
        jacobian = equations.jacobian_of(slopes, replace(component, rows=rows))
        ends = np.searchsorted(np.append(GROUND, component.bodies), equations.ends[:, rows])
        taken.append(rows[_choose(ends.astype(np.intp), jacobian, must[rows])])
    return np.sort(np.concatenate(taken))


def _choose(ends: Ids, jacobian: Floats, must: Flags) -> Ids:
    """The same of one component, its bodies numbered from 1; ``ends`` (2, rows): those of each row of ``jacobian``."""
    first, second = ends
    bodies = 1 + jacobian.shape[1] // 6
    settled = np.zeros(bodies, dtype=bool)
    settled[GROUND] = True
    taken: list[int] = []
    waiting = list(range(1, bodies))
    while waiting:
        alone = next((body for body in waiting if _held(jacobian, _own_rows(first, second, settled, body), body)), None)
        if alone is None:
            break
        taken += _independent(jacobian, _own_rows(first, second, settled, alone), [alone], must)
        settled[alone] = True
        waiting.remove(alone)
    others = np.flatnonzero(~(settled[first] & settled[second]))
    return np.array(taken + _independent(jacobian, others, waiting, must), dtype=np.intp)


def _own_rows(first: Ids, second: Ids, settled: Flags, body: int) -> Ids:
    return np.flatnonzero(((first == body) & settled[second]) | ((second == body) & settled[first]))


def _held(jacobian: Floats, rows: Ids, body: int) -> bool:
    """Whether ``rows`` hold the six unknowns of ``body`` firmly."""
    own = jacobian[rows][:, _columns([body])]
    return len(rows) >= 6 and bool(np.linalg.svd(own, compute_uv=False)[-1] > 1e-3)


def _independent(jacobian: Floats, rows: Ids, bodies: list[int], must: Flags) -> list[int]:
    weights = np.where(must[rows], 1e3, 1.0)[:, None]
    columns = _columns(bodies)
    if not len(columns):
        return []
    _, _, order = qr((weights * jacobian[rows][:, columns]).T, mode="economic", pivoting=True)
    return [int(row) for row in rows[order[: len(columns)]]]


def _columns(bodies: list[int]) -> Ids:
    return np.array([6 * (body - 1) + k for body in bodies for k in range(6)], dtype=np.intp)


def block_order(ends: Ids, bodies: int, ground: int = GROUND) -> tuple[RowBlock, ...]:
    """Split a square system into the smallest blocks that can be solved one after another, seen from ``ground``.

    ``ends`` (2, rows): the two of all ``bodies`` that each row speaks of. Uses these, not the values at one posture, so
    it holds everywhere.
    Dulmage and Mendelsohn 1958 (from memory): matching, then strongly connected components.
    """
    touched = _touched(ends, bodies, ground)
    row_of = maximum_bipartite_matching(touched, perm_type="row")
    needs: nx.DiGraph[int] = nx.DiGraph()
    needs.add_nodes_from(range(touched.shape[0]))
    for column, row in enumerate(row_of):
        needs.add_edges_from((int(other), column) for other in _columns_at(touched, row))
    order = nx.condensation(needs)
    blocks, done = [], np.zeros(touched.shape[1], dtype=bool)
    for node in nx.lexicographical_topological_sort(order, key=lambda node: min(order.nodes[node]["members"])):
        columns = np.sort(np.fromiter(order.nodes[node]["members"], dtype=np.intp))
        rows = np.sort(row_of[columns]).astype(np.intp)
        every = _columns_at(touched, rows)
        blocks.append(RowBlock(rows, columns, every[done[every]]))
        done[columns] = True
    return tuple(blocks)


def with_redundant_rows(equations: Equations, chosen: Ids) -> tuple[RowBlock, ...]:
    """The blocks of the ``chosen`` rows, with each other row in the last block that it speaks of.

    Rows that others imply at every posture are in no block. A block can lose its rank where only a redundant row of
    a later one still tells its unknowns (coupled wheels at their dead centre), so all that such a row depends on is
    solved in one with it. Firm blocks stay on their own.
    """
    ends, bodies = equations.ends, len(equations.bodies)
    square = block_order(ends[:, chosen], bodies)
    touched = _touched(ends, bodies, GROUND)
    block_of = _numbered(square, len(chosen))
    firm = _firm(ends[:, chosen], square)
    hangs_on: nx.DiGraph[int] = nx.DiGraph()
    hangs_on.add_nodes_from(range(len(square)))
    together: nx.Graph[int] = nx.Graph()
    together.add_nodes_from(range(len(square)))
    for number, block in enumerate(square):
        hangs_on.add_edges_from((number, int(other)) for other in set(block_of[block.earlier]) - firm)
    for row in np.setdiff1d(equations.needed, chosen):
        loose = set(block_of[_columns_at(touched, row)].tolist()) - firm
        nx.add_path(together, sorted(loose.union(*(nx.descendants(hangs_on, number) for number in loose))))
    groups = sorted(nx.connected_components(together), key=lambda group: (not group <= firm, min(group)))
    columns = [np.sort(np.concatenate([square[number].columns for number in group])) for group in groups]
    return _tall(touched, equations.needed, columns, [group <= firm for group in groups])


def _firm(ends: Ids, square: tuple[RowBlock, ...]) -> set[int]:
    """Blocks of one body that its joint and drives to one firm body or the ground hold: at no posture do they fail."""
    firm, settled = set(), {GROUND}
    for number, block in enumerate(square):
        both = set(ends[:, block.rows].reshape(-1).tolist())
        own = set((block.columns // 6 + 1).tolist())
        if len(own) == 1 and len(block.columns) == 6 and len(both) == 2 and both - own <= settled:
            firm.add(number)
            settled |= own
    return firm


def _numbered(square: tuple[RowBlock, ...], unknowns: int) -> Ids:
    """Number (n,) of the block in which each unknown is solved."""
    numbers = np.zeros(unknowns, dtype=np.intp)
    for number, block in enumerate(square):
        numbers[block.columns] = number
    return numbers


def _tall(touched: csr_matrix, needed: Ids, columns: list[Ids], firm: list[bool]) -> tuple[RowBlock, ...]:
    """One block for each group of ``columns``, in this order, with all rows ``needed`` of which it is the last."""
    position = np.zeros(touched.shape[1], dtype=np.intp)
    for number, own in enumerate(columns):
        position[own] = number
    last = np.array([position[_columns_at(touched, row)].max(initial=-1) for row in needed], dtype=np.intp)
    order = np.argsort(last, kind="stable")
    starts = np.searchsorted(last[order], np.arange(len(columns) + 1))
    blocks = []
    for number, own in enumerate(columns):
        rows = needed[order[starts[number] : starts[number + 1]]]
        every = _columns_at(touched, rows)
        blocks.append(RowBlock(rows, own, every[position[every] < number], firm[number]))
    return tuple(blocks)


def _touched(ends: Ids, bodies: int, ground: int) -> csr_matrix:
    """Which unknowns (rows, 6 (bodies - 1)) of all bodies but ``ground`` each row speaks of, as ones."""
    row, body = np.tile(np.arange(ends.shape[1]), 2), ends.reshape(-1)
    row, body = row[body != ground], body[body != ground]
    columns = 6 * (body - (body > ground))[:, None] + np.arange(6)
    touched = csr_matrix(
        (np.ones(columns.size, dtype=np.int8), (np.repeat(row, 6), columns.reshape(-1))),
        shape=(ends.shape[1], 6 * (bodies - 1)),
    )
    touched.sort_indices()
    return touched


def _columns_at(touched: csr_matrix, rows: Ids | int) -> Ids:
    """The unknowns that rows speak of, in their order."""
    start, indices = touched.indptr, touched.indices
    own = [indices[start[row] : start[row + 1]] for row in np.atleast_1d(rows).tolist()]
    return np.unique(np.concatenate(own or [indices[:0]])).astype(np.intp)


@dataclass(frozen=True, eq=False)
class System:
    """All equations, as many independent ones as unknowns (``chosen``, at rest), and the blocks over all rows."""

    equations: Equations
    chosen: Ids
    blocks: tuple[RowBlock, ...]
    seen_from: Memo[int, Flags] = field(default_factory=Memo, init=False, repr=False)
    """Which drives (B, d) can move each body against one that is taken for the ground, by the number of that."""

    def drives_between(self, body: int, other: int) -> Flags:
        """(d,) whether a drive can move the two bodies against each other at all, anywhere.

        Rows speak of bodies' places against each other, so any body may be taken for the ground; which blocks then
        lead from a drive to the other body is a matter of which rows speak of which bodies, not of the posture.
        """
        if GROUND not in (body, other) and self._component_of[body] != self._component_of[other]:
            return self.drives_between(body, GROUND) | self.drives_between(GROUND, other)
        one, two = (self.seen_from.of(ground, self._influences) for ground in (body, other))
        return np.asarray(one[other] & two[body])

    def block_drives(self) -> Flags:
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

    @cached_property
    def groups(self) -> Ids:
        """Which independent group (B,) each body is in; -1 for those that no drive moves."""
        return independent_groups(self.equations)

    @cached_property
    def _component_of(self) -> Ids:
        """Which of the components (B,) each body is in."""
        number = np.zeros(len(self.equations.bodies), dtype=np.intp)
        for place, component in enumerate(self.equations.components):
            number[component.bodies] = place
        return number

    def _influences(self, ground: int) -> Flags:
        """Which drives (B, d) can move each body against ``ground``, as far as no other ground lies between."""
        ends, count = self.equations.ends[:, self.chosen], len(self.equations.bodies)
        bodies, rows = np.arange(count), np.arange(len(self.chosen))
        if ground != GROUND:
            own = self._component_of == self._component_of[ground]
            own[GROUND] = False
            bodies, rows = np.append(GROUND, np.flatnonzero(own)), np.flatnonzero(own[ends].any(axis=0))
        ratios, others = self.equations.ratios[self.chosen[rows]], bodies[bodies != ground]
        moved = np.zeros((count, ratios.shape[1]), dtype=bool)
        local = np.searchsorted(bodies, ends[:, rows])
        for block in block_order(local, len(bodies), int(np.searchsorted(bodies, ground))):
            alone = (ratios[block.rows] != 0).any(axis=0)
            earlier = moved[others[np.unique(block.earlier // 6)]].any(axis=0)
            moved[others[np.unique(block.columns // 6)]] |= alone | earlier
        return moved

    @cached_property
    def stacks(self) -> BlockStacks:
        """The blocks as they are solved."""
        return BlockStacks(self.blocks, self.equations.ends, self.equations.groups)

    @cached_property
    def loss(self) -> InverseLoss:
        """What rounding in their left inverse may add."""
        return InverseLoss(self.stacks)

    @cached_property
    def bytes_each(self) -> int:
        """About how much memory it takes at the most to solve one posture, or to expand the motion about it.

        From measurements on machines of 3 to 100 bodies; twice what most of them take.
        """
        rows = len(self.equations.ratios)
        largest = max((stack.place.stop - stack.place.start for stack in self.stacks.every), default=0)
        return int(8 * max(120 * rows, 60 * rows + 5 * max(largest, self.loss.largest)))

    def solve(self, slopes: RowSlopes, right: Floats) -> Floats:
        """Solve all rows for right sides (N, rows, q), each block by least squares where it has rows to spare.

        Singular blocks give NaN, never an exception.
        """
        return self.stacks.solve(slopes, right)

    def stays_regular(self, before: RowSlopes, after: RowSlopes) -> Flags:
        """Whether (N,) every block keeps its rank on the way between two postures near each other.

        Unlike the sign of a determinant, this sees two loops of one block that turn over at once. Firm blocks never
        lose their rank.
        """
        return self.stacks.stays_regular(before, after)
