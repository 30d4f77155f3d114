"""The volume that one piece sweeps as the other sees it, grown: where the other must give way to keep a clearance.

A point x of a must go where a setting of the range brings b within the wanted clearance w of it. Over a cell of
settings that holds where b, as it stands at the centre, is within the growth g = w + travel + errors of x. The balls
of ``covering_balls`` stand for b, so that with the least power P of any of them

    F(x) = min over cells (P(x) - g²) <= slack        wherever a must give way.

F is a minimum of functions |x - p|² - const. Of such a function the linear interpolation over a tetrahedron of a
lattice of step h lies above it by no more than the circumradius squared, 3 h² / 4: so all that must go lies where the
interpolated F is at most slack + 3 h² / 4. That is what is cut away.

F is looked at in blocks of a's box that are halved again and again, with the cells that may matter in each. A cell is
cut only while it moves more than a block is large and matters at the border of the volume.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from scipy.spatial import cKDTree

from assembly.clearance.removal.covering_balls import CoveringBalls, Powers, Zone, bisected, covering_balls
from assembly.clearance.removal.setting_cells import SettingCells
from assembly.geometry.inside import contains
from assembly.geometry.isosurface import CLEAR_OF_NODES, isosurface
from assembly.geometry.mesh import Flags, Floats, Ids, Mesh
from assembly.kinematics.array_stacks import stacked, taken
from assembly.time_limit import check_time

TARGET = 0.2
"""mm that pieces may travel in a cell that matters."""
COARSE = 0.35
"""Share of a block's side that they may travel in a cell that matters in it."""
MOST_CELLS = 9000
MOST_PAIRS = 1_500_000
"""Pairs of a block and a cell above which blocks are halved no more."""
BALLS, LATTICE = 0.05, 0.12
"""mm that the balls, and the lattice, may add to the growth."""
MARGIN = 2.5
"""Sides of a block, and the least growth, beyond the zone to which b's surface is known."""
ROOTS = 6
"""Blocks along the longest side of a's box at first, or a few more."""
NEAR = 0.1
"""mm that the level of F may lie beyond the growth, or more."""
CORE, OUTSIDE = -1e6, 1e6
"""mm²: F in blocks that go for sure, and where it was not worked out because nothing goes."""
_OCTANTS = np.array(list(product((0, 1), repeat=3)))


@dataclass(frozen=True, slots=True, eq=False)
class Blocks:
    """Blocks of ``side`` mm, and pairs of a block and a cell that may matter in it.

    Blocks by numbers ``at`` (n, 3) from the lattice's corner, and which lie ``deep`` inside a; pairs by ``block`` and
    ``cell`` (m,).
    """

    side: float
    at: Ids
    deep: Flags
    block: Ids
    cell: Ids

    @property
    def radius(self) -> float:
        """Mm from a block's middle to its corners."""
        return self.side * 3**0.5 / 2

    def of(self, blocks: Flags, pairs: Flags) -> Blocks:
        """Those of the ``blocks`` (n,) and of the ``pairs`` (m,) that are kept."""
        number = np.cumsum(blocks) - 1
        own = pairs & blocks[self.block]
        return Blocks(self.side, self.at[blocks], self.deep[blocks], number[self.block[own]], self.cell[own])

    def halved(self) -> Blocks:
        """The eight parts of each block, with its cells."""
        at = (2 * self.at[:, None] + _OCTANTS).reshape(-1, 3)
        block = (8 * self.block[:, None] + np.arange(8)).reshape(-1)
        return Blocks(self.side / 2, at, np.repeat(self.deep, 8), block, np.repeat(self.cell, 8))


@dataclass(frozen=True, slots=True, eq=False)
class SweptVolume:
    """A closed ``mesh`` that holds all that must go of a, seen as a is drawn; what was added to the wanted clearance.

    ``travel`` mm: the largest in a cell at its border; ``lattice`` mm: what balls and lattice add at most there.
    """

    mesh: Mesh
    travel: float
    lattice: float


class SweptField:
    """Where ``a`` must give way to ``b``, as both are drawn, in ``cells`` of settings.

    ``growth`` mm: the wanted clearance with all that does not depend on the cell.
    """

    def __init__(self, a: Mesh, b: Mesh, cells: SettingCells, growth: float) -> None:
        self.a, self.b, self.cells, self.growth = a, b, cells, growth
        self.step = (8 * LATTICE * growth / 3) ** 0.5
        self.of_a, self.of_b = a.vertices[a.faces], b.vertices[b.faces]
        self.origin = a.bounds[0] - 1.0
        self.core: list[tuple[float, Ids]] = []
        """Blocks that go for sure, with their side."""

    def swept(self) -> SweptVolume | None:
        """The volume, or None where nothing of a must go."""
        blocks = self._roots()
        while len(blocks.at):
            blocks = self._near_a(blocks)
            balls = self._balls(blocks)
            if blocks.side <= self.step:
                return self._bordered(*self._looked_at(blocks, balls), balls)
            blocks, _ = self._looked_at(blocks, balls)
            if 8 * len(blocks.block) > MOST_PAIRS:
                self.step = blocks.side / 2
            blocks = blocks.halved()
        return None

    def _roots(self) -> Blocks:
        size = self.a.bounds[1] + 1.0 - self.origin
        side = self.step
        while side * ROOTS < size.max():
            side *= 2
        counts = np.ceil(size / side).astype(np.intp)
        at = np.stack(np.meshgrid(*(np.arange(n) for n in counts), indexing="ij"), axis=-1).reshape(-1, 3)
        block, cell = np.meshgrid(np.arange(len(at)), np.arange(len(self.cells.placed)), indexing="ij")
        return Blocks(side, at, np.zeros(len(at), dtype=bool), block.reshape(-1), cell.reshape(-1))

    def _middles(self, blocks: Blocks) -> Floats:
        return np.asarray(self.origin + (blocks.at + 0.5) * blocks.side)

    def _near_a(self, blocks: Blocks) -> Blocks:
        """The blocks that hold something of a, or have it in their halo."""
        middles, reach, longest = self._middles(blocks), blocks.radius + self._halo(blocks), blocks.side
        self.of_a = _near(bisected(self.of_a, longest), middles, reach + longest)
        beside = np.zeros(len(middles), dtype=bool)
        if len(self.of_a):
            corners = np.unique(self.of_a.reshape(-1, 3).round(9), axis=0)
            far, _ = cKDTree(corners).query(middles, distance_upper_bound=reach + longest)
            beside = far**2 <= reach**2 + longest**2 / 3
        deep = blocks.deep & ~beside
        unknown = np.flatnonzero(~beside & ~deep)
        deep[unknown] = contains(self.a, middles[unknown])
        whole = Blocks(blocks.side, blocks.at, deep, blocks.block, blocks.cell)
        return whole.of(beside | deep, np.ones(len(blocks.block), dtype=bool))

    def _balls(self, blocks: Blocks) -> CoveringBalls:
        """Balls for b near all places that these blocks take seen from it, as small as their size asks."""
        grain, growth = blocks.side, self._growths(blocks)
        points = self._seen(blocks, np.arange(len(blocks.block)))
        cloud = _thinned(points, grain)
        reach = float(growth.max(initial=0.0)) + blocks.radius + self._halo(blocks) + grain
        margin = max(MARGIN * blocks.side, 4 * self.growth)
        longest = max(blocks.side, (6 * BALLS * self.growth) ** 0.5)
        self.of_b = _near(bisected(self.of_b, longest), cloud, reach + margin + longest)
        zone = Zone(cloud, reach, margin)
        return covering_balls(self.b, self.of_b, longest, zone, max(self.growth, blocks.side / 2))

    def _looked_at(self, blocks: Blocks, balls: CoveringBalls) -> tuple[Blocks, Powers]:
        """The blocks and pairs that matter, with their powers (m,): cells are cut as far as this size of block asks."""
        powers = self._powers(blocks, balls)
        while True:
            check_time()
            blocks, powers = self._pruned(blocks, powers, balls)
            rows = self._to_cut(blocks)
            if not len(rows):
                return blocks, powers
            new, parents = self.cells.cut(rows)
            kept = ~np.isin(blocks.cell, rows)
            more = _with_children(blocks, rows, new, parents)
            powers = stacked(taken(powers, kept), self._powers(more, balls))
            both = (np.concatenate(pair) for pair in ((blocks.block[kept], more.block), (blocks.cell[kept], more.cell)))
            blocks = Blocks(blocks.side, blocks.at, blocks.deep, *both)

    def _growths(self, blocks: Blocks) -> Floats:
        """The growth (m,) mm of the cell of each pair."""
        return np.asarray(self.growth + 2 * CLEAR_OF_NODES * blocks.side + self.cells.placed.travel[blocks.cell])

    def _seen(self, blocks: Blocks, pairs: Ids) -> Floats:
        """The middles (n, 3) of the blocks of ``pairs`` as b sees them at the centres of their cells."""
        place = self.cells.placed.b_from_a[blocks.cell[pairs]]
        middles = self._middles(blocks)[blocks.block[pairs]]
        return np.asarray(np.einsum("nij,nj->ni", place[:, :3, :3], middles) + place[:, :3, 3])

    def _powers(self, blocks: Blocks, balls: CoveringBalls) -> Powers:
        """The least power of any of ``balls`` at the block of each pair."""
        reach = self._growths(blocks).max(initial=0.0) + blocks.radius + self._halo(blocks) + balls.slack**0.5
        return balls.looked_at(self._seen(blocks, np.arange(len(blocks.block))), float(reach))

    def _halo(self, blocks: Blocks) -> float:
        """Mm round a block within which what goes must be known: twice as far as the nodes will stand apart."""
        return NEAR + blocks.side * (2 if blocks.side <= self.step else 1)

    def _pruned(self, blocks: Blocks, powers: Powers, balls: CoveringBalls) -> tuple[Blocks, Powers]:
        """Without blocks that go for sure with all about them, pairs that cannot matter, and blocks without any."""
        growth = self._growths(blocks)
        low, high = balls.nearest_may_be(powers.power) - blocks.radius, powers.within + blocks.radius
        shown = np.where(self.cells.placed.shown[blocks.cell], high, np.inf)
        core = _least_of(blocks, shown) + self._halo(blocks) <= self.growth
        self.core.append((blocks.side, blocks.at[core]))
        final = ~self._may_yet_be_cut(blocks.cell)
        most = np.maximum(high, balls.least) ** 2 + balls.slack - growth**2
        most = _least_of(blocks, np.where(final, most, np.inf))
        dominated = (low > balls.least) & (low**2 - growth**2 > most[blocks.block])
        kept = (low <= growth + self._halo(blocks)) & ~dominated & ~core[blocks.block]
        some = np.zeros(len(blocks.at), dtype=bool)
        some[blocks.block[kept]] = True
        return blocks.of(some, kept), taken(powers, kept)

    def _may_yet_be_cut(self, cells: Ids) -> Flags:
        return np.asarray((self.cells.placed.travel[cells] > TARGET) & self.cells.may_be_cut(cells))

    def _to_cut(self, blocks: Blocks) -> Ids:
        """The cells that move more than blocks of this size ask for, those that do most first."""
        cells, travel = np.unique(blocks.cell), self.cells.placed.travel
        cells = cells[self._may_yet_be_cut(cells) & (travel[cells] > COARSE * blocks.side)]
        left = max(MOST_CELLS - len(self.cells.placed), 0) // 3
        return np.asarray(cells[np.argsort(-travel[cells], kind="stable")[:left]])

    def _bordered(self, blocks: Blocks, powers: Powers, balls: CoveringBalls) -> SweptVolume | None:
        """The volume within the border, the middles of ``blocks`` being nodes of its lattice."""
        growth = self._growths(blocks)
        field = _least_of(blocks, powers.power - growth**2)
        level = balls.slack + 0.75 * blocks.side**2
        if field.min(initial=OUTSIDE) > level and not any(len(at) for _, at in self.core):
            return None
        every = [blocks.at, *(_parts(at, round(side / blocks.side)) for side, at in self.core)]
        low = np.concatenate(every).min(axis=0) - 1
        values = np.full(np.concatenate(every).max(axis=0) + 2 - low, OUTSIDE)
        for at in every[1:]:
            values[tuple((at - low).T)] = CORE
        values[tuple((blocks.at - low).T)] = np.maximum(field, CORE)
        mesh = isosurface(values, level, self.origin + (low + 0.5) * blocks.side, blocks.side)
        at_border = powers.power - growth**2 <= np.minimum(field[blocks.block] + level, level)
        travel = float(self.cells.placed.travel[blocks.cell[at_border]].max(initial=0.0))
        least = self.growth
        return SweptVolume(mesh, travel, (least**2 + level) ** 0.5 - least + 2 * CLEAR_OF_NODES * blocks.side)


def _least_of(blocks: Blocks, values: Floats) -> Floats:
    """The least (n,) of the ``values`` (m,) of each block's pairs; infinite where it has none."""
    least = np.full(len(blocks.at), np.inf)
    np.minimum.at(least, blocks.block, values)
    return least


def _with_children(blocks: Blocks, rows: Ids, new: Ids, parents: Ids) -> Blocks:
    """The pairs of the cells ``rows`` (n,) with those cut from them in their place: ``new`` (k,), of ``parents``."""
    order = np.argsort(parents, kind="stable")
    counts = np.bincount(parents, minlength=len(rows))
    starts = np.cumsum(counts) - counts
    at = np.argsort(rows)
    pairs = np.flatnonzero(np.isin(blocks.cell, rows))
    parent = at[np.searchsorted(rows, blocks.cell[pairs], sorter=at)]
    block = np.repeat(blocks.block[pairs], counts[parent])
    first = np.repeat(starts[parent], counts[parent])
    own = np.arange(len(block)) - np.repeat(np.cumsum(counts[parent]) - counts[parent], counts[parent])
    return Blocks(blocks.side, blocks.at, blocks.deep, block, new[order[first + own]])


def _near(triangles: Floats, cloud: Floats, reach: float) -> Floats:
    """Those of ``triangles`` (n, 3, 3) that may come within ``reach`` mm of a point of the ``cloud`` (m, 3)."""
    if not len(triangles) or not len(cloud):
        return triangles[:0]
    middles = triangles.mean(axis=1)
    radii = np.linalg.norm(triangles - middles[:, None], axis=2).max(axis=1)
    far, _ = cKDTree(cloud).query(middles, distance_upper_bound=reach + float(radii.max()) + 1e-6)
    return np.asarray(triangles[far <= reach + radii])


def _thinned(points: Floats, grain: float) -> Floats:
    """Middles (m, 3) of the cubes of side ``grain`` that hold ``points`` (n, 3)."""
    cubes = np.floor(points / grain).astype(np.int64)
    low = cubes.min(axis=0)
    shape = cubes.max(axis=0) - low + 1
    keys = np.unique(np.ravel_multi_index(tuple((cubes - low).T), tuple(shape)))
    return np.asarray((np.column_stack(np.unravel_index(keys, tuple(shape))) + low + 0.5) * grain)


def _parts(at: Ids, times: int) -> Ids:
    """The numbers (n, 3) of the small blocks, ``times`` of them each way, that blocks ``at`` are made of."""
    own = np.array(list(product(range(times), repeat=3)), dtype=np.intp)
    return np.asarray((at[:, None] * times + own).reshape(-1, 3))
