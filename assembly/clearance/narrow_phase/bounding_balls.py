"""A few balls that hold a solid: enough to bound how far any of its points can move, and the box round it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import ConvexHull, QhullError

from assembly.geometry.mesh import Floats, Mesh
from assembly.geometry.rotations import lengths
from assembly.geometry.shells import components
from assembly.kinematics.approach import Cloud

MOST_BALLS = 24
ROUNDING = 1e-9
"""mm: a hull's volume beyond the solid's, shared over its surface, that is no hollow."""


@dataclass(frozen=True, slots=True, eq=False)
class BoundingBalls:
    """Balls ``points`` (k, 3) mm at rest with ``radii`` (k,) mm, that together hold every corner of the solid's hull.

    A motion's length is a convex function of the point, so over the solid it is largest at a corner of its hull.
    """

    points: Floats
    radii: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Side:
    """A solid that is searched: its number on the bench, its part, its body, the balls that hold it, and its hull.

    ``rolls``: numbers of the machine's idle rolls that may be any and move it: it is not round about their lines.
    """

    solid: int
    part: str
    body: int
    outline: BoundingBalls
    hull: Cloud
    surface_error: float
    rolls: frozenset[int] = frozenset()
    turned: BoundingBalls | None = None
    """Balls that hold it however it is rolled about the line of its one roll; none where there is not one."""

    def at_any_roll(self, rolls: Iterable[int]) -> Side | None:
        """The side as what it fills at all of ``rolls``, itself where none of them moves it; none where not known."""
        if self.rolls.isdisjoint(rolls):
            return self
        return None if self.turned is None else replace(self, outline=self.turned)


def outline_turned(corners: Floats, at: Floats, along: Floats) -> BoundingBalls:
    """Balls that hold ``corners`` (k, 3) mm however they are rolled about the line through ``at`` along ``along``.

    The corners of one slice across the line turn on circles that a ball round the middle of the slice holds.
    """
    reach, off = (corners - at) @ along, np.linalg.norm(np.cross(corners - at, along), axis=1)
    edges = np.linspace(reach.min(), reach.max(), MOST_BALLS + 1)
    number = np.searchsorted(edges[1:-1], reach)
    slices = [np.flatnonzero(number == k) for k in range(MOST_BALLS)]
    balls = []
    for own in (own for own in slices if len(own)):
        middle = (reach[own].min() + reach[own].max()) / 2
        balls.append((middle, np.hypot(reach[own] - middle, off[own]).max()))
    middles, radii = np.array(balls).T
    return BoundingBalls(at + middles[:, None] * along, radii)


def outline_round(corners: Floats) -> BoundingBalls:
    """Balls that hold ``corners`` (k, 3) mm: the corners themselves where they are few."""
    if len(corners) <= MOST_BALLS:
        return BoundingBalls(corners, np.zeros(len(corners)))
    centres = [int(np.argmax(np.linalg.norm(corners - corners.mean(axis=0), axis=1)))]
    distance = np.linalg.norm(corners - corners[centres[0]], axis=1)
    owner = np.zeros(len(corners), dtype=np.intp)
    while len(centres) < MOST_BALLS:
        centres.append(int(np.argmax(distance)))
        from_new = np.linalg.norm(corners - corners[centres[-1]], axis=1)
        owner = np.where(from_new < distance, len(centres) - 1, owner)
        distance = np.minimum(distance, from_new)
    radii = np.array([distance[owner == k].max(initial=0.0) for k in range(len(centres))])
    return BoundingBalls(corners[centres], radii)


def hull_corners(mesh: Mesh) -> Floats:
    """Corners (k, 3) of the convex hull; all vertices where the solid is flat or the hull cannot be made."""
    used = mesh.vertices[np.unique(mesh.faces)]
    try:
        return np.asarray(used[ConvexHull(used).vertices])
    except QhullError:
        return used


def is_convex(mesh: Mesh) -> bool:
    """Whether a solid of one shell fills its convex hull, but for rounding."""
    try:
        hull = ConvexHull(mesh.vertices[np.unique(mesh.faces)])
    except QhullError:
        return False
    return len(components(mesh)) == 1 and bool(hull.volume - mesh.volume <= ROUNDING * hull.area)


def boxes(outline: BoundingBalls, world_from_rest: Floats) -> Floats:
    """(N, 2, 3) mm: lowest and highest corner of a box round the solid at each of N places (N, 4, 4)."""
    points = world_from_rest[:, :3, :3] @ outline.points.T + world_from_rest[:, :3, 3:]
    return np.stack([(points - outline.radii).min(axis=2), (points + outline.radii).max(axis=2)], axis=1)


def box_gaps(first: Floats, second: Floats) -> Floats:
    """Distance (N,) mm between boxes (N, 2, 3): never more than that of what they hold."""
    apart = np.maximum(first[:, 0] - second[:, 1], second[:, 0] - first[:, 1])
    return np.asarray(lengths(np.maximum(apart, 0.0)))


def slab_gaps(first: BoundingBalls, second: BoundingBalls, places: tuple[Floats, Floats]) -> Floats:
    """Width (N,) mm of the slab that two outlines leave between them at N places (N, 4, 4) each; below 0 for none.

    It is square to the line between those two of their balls that are nearest to each other.
    """
    (a, b) = (
        outline.points @ place[:, :3, :3].transpose(0, 2, 1) + place[:, None, :3, 3]
        for outline, place in zip((first, second), places, strict=True)
    )
    apart = b[:, None] - a[:, :, None]
    between = lengths(apart)
    rows = np.arange(len(a))
    nearest = (between - first.radii[:, None] - second.radii).reshape(len(a), -1).argmin(axis=1)
    ways = apart.reshape(len(a), -1, 3)[rows, nearest]
    ways = ways / np.maximum(lengths(ways), 1e-12)[:, None]
    low = (np.einsum("nki,ni->nk", b, ways) - second.radii).min(axis=1)
    return np.asarray(low - (np.einsum("nki,ni->nk", a, ways) + first.radii).max(axis=1))
