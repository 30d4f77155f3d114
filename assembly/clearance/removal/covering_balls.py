"""Balls that cover a solid, in one tree: how far points are from it, inside or out, bounded from both sides.

The power of a ball at x is |x - p|² - W. Balls stand on the surface (W = 0) at the corners of facets that are cut until
no side is longer than some length L. Where c is the point of a facet nearest to x, with shares s over the corners v,

    sum s |x - v|² = |x - c|² + sum s |c - v|² <= |x - c|² + L² / 3      (the cross term is zero)

so the least power is at most that. Farther in, balls stand on lattices, each no larger than its depth, so that it lies
in the solid: at depths from d on they are 2/3 to 1/2 of d large and stand so close that none is missed.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from scipy.spatial import cKDTree

from assembly.geometry.inside import contains
from assembly.geometry.mesh import Flags, Floats, Ids, Mesh
from assembly.geometry.shells import labels_of
from assembly.time_limit import check_time

APART = 0.52
"""Spacing of a lattice as a share of the depth that it is for: below ``SAFE``, so that neighbours lie on one side."""
SAFE = 0.549
"""Radius of its balls as a share of that depth: at most 1 - 0.52 sqrt(3) / 2."""
REACHED = 0.4504
"""Root of their W as a share of that depth: the nearest one to a point is no farther than 0.52 sqrt(3) / 2."""
CUBE = 8
"""Spacings along a cube of lattice points that is looked at as one."""
MOST_CUBES = 3_000_000
MOST_POINTS = 20_000_000
"""Cubes of a lattice, and points of those near the surface, above which a solid is too large for its clearance."""
AHEAD = 1e-6
"""mm by which the search in the tree reaches farther than it must."""


class UnsettledError(Exception):
    """What must go cannot be told; says why."""


@dataclass(frozen=True, slots=True, eq=False)
class Powers:
    """Of n points the least ``power`` (n,) mm² of any ball, and how far (n,) mm that one's surface is off.

    ``within``: at least the distance from the solid; less than zero inside.
    """

    power: Floats
    within: Floats


@dataclass(frozen=True, slots=True, eq=False)
class CoveringBalls:
    """``tree`` of the balls' middles, with a fourth coordinate whose square is ``lift`` less the ball's own W.

    A point within ``known`` mm of the solid, or in it, has a power of at most known² + ``slack`` (mm²); where that is
    more than ``least``² + ``slack``, it is no larger than its distance squared and the slack.
    """

    tree: cKDTree
    radii: Floats
    weights: Floats
    lift: float
    least: float
    slack: float

    def looked_at(self, points: Floats, reach: float) -> Powers:
        """What the ball of the least power at each of ``points`` (n, 3) tells; infinite beyond ``reach``²."""
        if not self.tree.n:
            return Powers(np.full(len(points), np.inf), np.full(len(points), np.inf))
        lifted = np.column_stack([points, np.zeros(len(points))])
        far, ball = self.tree.query(lifted, distance_upper_bound=np.sqrt(reach**2 + self.lift) + AHEAD)
        power, found = far**2 - self.lift, np.minimum(ball, self.tree.n - 1)
        surface = np.sqrt(np.maximum(power + self.weights[found], 0.0)) - self.radii[found]
        return Powers(power, surface)

    def nearest_may_be(self, powers: Floats) -> Floats:
        """Lower bounds (n,) mm on the distance from the solid of points with these least powers; 0 inside."""
        sure = powers > self.least**2 + self.slack
        return np.where(sure, np.sqrt(np.maximum(powers - self.slack, 0.0)), 0.0)

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self.radii)


@dataclass(frozen=True, slots=True, eq=False)
class Zone:
    """Where points may stand: within ``reach`` mm of a ``cloud`` (n, 3) mm, in a solid's own frame.

    ``margin`` mm: how far beyond that the solid's surface is known.
    """

    cloud: Floats
    reach: float
    margin: float


def covering_balls(mesh: Mesh, triangles: Floats, longest: float, zone: Zone, least: float) -> CoveringBalls:
    """Balls for points in ``zone``.

    ``triangles`` (m, 3, 3): of the surface of ``mesh``, no side longer than ``longest``, as far as the zone and its
    margin go. Points in the solid within ``least`` mm of its surface are covered by balls on the surface, deeper ones
    by those inside.
    """
    slack = longest**2 / 3
    corners = np.unique(triangles.reshape(-1, 3).round(9), axis=0)
    surface = cKDTree(corners)
    middles, radii, weights = [corners], [np.zeros(len(corners))], [np.zeros(len(corners))]
    depth, last = least, False
    while len(corners) and not last:
        last = 2 * depth > zone.margin
        inner = _interior(mesh, surface, slack, zone, depth, last=last)
        middles.append(inner)
        radii.append(np.full(len(inner), SAFE * depth))
        weights.append(np.full(len(inner), (REACHED * depth) ** 2))
        depth *= 2
    radius, weight = np.concatenate(radii), np.concatenate(weights)
    lift = float(weight.max(initial=0.0))
    lifted = np.column_stack([np.concatenate(middles), np.sqrt(lift - weight)])
    return CoveringBalls(cKDTree(lifted), radius, weight, lift, least, slack)


def _interior(mesh: Mesh, surface: cKDTree, slack: float, zone: Zone, depth: float, *, last: bool) -> Floats:
    """Points (n, 3) of a lattice in the solid, deep enough for the balls of ``depth``; not beyond if not ``last``."""
    step = APART * depth
    most = 2 * depth + step
    numbers, origin = _near_points(mesh, zone, (step, depth), None if last else (surface, most))
    places = origin + step * numbers
    far, _ = surface.query(places, distance_upper_bound=np.sqrt((2 * most) ** 2 + slack))
    deep = np.sqrt(np.maximum(np.minimum(far, 1e9) ** 2 - slack, 0.0))
    kept = (deep >= SAFE * depth) & (last | (deep <= most))
    return np.asarray(places[kept][_inside(mesh, numbers[kept], places[kept])])


def _near_points(
    mesh: Mesh, zone: Zone, sizes: tuple[float, float], shell: tuple[cKDTree, float] | None
) -> tuple[Ids, Floats]:
    """The points (n, 3) of a lattice, counted each way from where it begins, that stand near the zone.

    ``sizes``: the lattice's step and the depth that it is for; ``shell``: the surface, and how far from it (mm) points
    are wanted, None for all.
    """
    step, depth = sizes
    low = np.maximum(mesh.bounds[0], zone.cloud.min(axis=0) - zone.reach)
    high = np.minimum(mesh.bounds[1], zone.cloud.max(axis=0) + zone.reach)
    if (low > high).any():
        return np.zeros((0, 3), dtype=np.intp), low
    cloud, side = cKDTree(zone.cloud), CUBE * step
    cubes = np.ceil((high - low) / side).astype(np.intp) + 1
    _refuse_above(int(np.prod(cubes)), MOST_CUBES)
    every = np.stack(np.meshgrid(*(np.arange(n) for n in cubes), indexing="ij"), axis=-1).reshape(-1, 3)
    middles = low + (every + 0.5) * side
    near = np.isfinite(cloud.query(middles, distance_upper_bound=zone.reach + depth / 2 + side)[0])
    if shell is not None:
        near[near] = np.isfinite(shell[0].query(middles[near], distance_upper_bound=2 * shell[1] + side)[0])
    _refuse_above(int(near.sum()) * CUBE**3, MOST_POINTS)
    own = np.array(list(product(range(CUBE), repeat=3)))
    points = (every[near, None] * CUBE + own).reshape(-1, 3)
    far, _ = cloud.query(low + step * points, distance_upper_bound=zone.reach + depth / 2)
    return np.asarray(points[np.isfinite(far)], dtype=np.intp), low


def _refuse_above(count: int, most: int) -> None:
    if count > most:
        raise UnsettledError("where the two come near is too large to be looked at as finely as the clearance asks")


def _inside(mesh: Mesh, numbers: Ids, places: Floats) -> Flags:
    """Whether (n,) lattice points lie in the solid: neighbours, of which no surface is between, lie on one side."""
    if not len(numbers):
        return np.zeros(0, dtype=bool)
    shape = numbers.max(axis=0) + 2  # one more each way, so that the next number is a neighbour's or nobody's
    keys = np.ravel_multi_index(tuple(numbers.T), tuple(shape))
    order = np.argsort(keys)
    links = []
    for stride in (shape[1] * shape[2], shape[2], 1):
        at = np.minimum(np.searchsorted(keys, keys + stride, sorter=order), len(keys) - 1)
        met = np.flatnonzero(keys[order[at]] == keys + stride)
        links.append(np.column_stack([met, order[at[met]]]))
    _, first, which = np.unique(labels_of(len(keys), np.concatenate(links)), return_index=True, return_inverse=True)
    check_time()
    return np.asarray(contains(mesh, places[first])[which.reshape(-1)])


def bisected(triangles: Floats, longest: float) -> Floats:
    """``triangles`` (n, 3, 3) cut through the middle of their longest sides until none is longer than ``longest``."""
    done = []
    while len(triangles):
        sides = ((triangles - np.roll(triangles, -1, axis=1)) ** 2).sum(axis=2)
        long = sides.max(axis=1) > longest**2
        done.append(triangles[~long])
        order = (sides[long].argmax(axis=1)[:, None] + np.arange(3)) % 3
        a, b, c = np.moveaxis(np.take_along_axis(triangles[long], order[..., None], axis=1), 1, 0)
        middle = (a + b) / 2
        triangles = np.concatenate([np.stack([a, middle, c], axis=1), np.stack([middle, b, c], axis=1)])
    return np.concatenate(done) if done else np.zeros((0, 3, 3))
