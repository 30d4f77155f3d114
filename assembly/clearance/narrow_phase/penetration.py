"""How deep two convex solids stand in each other: the shortest shift, in any direction, that takes them apart.

The differences of points of the one and of the other fill a convex solid round the origin; a shift frees the two when
it reaches that solid's surface. The nearest place of the surface is closed in on from both sides. A polytope of its
own points lies inside it, so its nearest facet is no farther; the plane that touches the solid square to a facet's
normal is one way out. Where the two agree the depth is known; the polytope grows where they do not. After Gilbert's and
Johnson's algorithm for distance and its expansion to depth (van den Bergen 2001, "Proximity Queries and Penetration
Depth Computation on 3D Game Objects", from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from scipy.spatial import ConvexHull, QhullError

from assembly.geometry.mesh import Floats
from assembly.time_limit import check_time

TOLERANCE = 1e-3
"""mm to which the depth is closed in on."""
MOST_ROUNDS = 60
FACETS_TRIED = 8
"""Facets of the polytope that are tried to be moved out in one round."""


@dataclass(frozen=True, slots=True, eq=False)
class Penetration:
    """Moving the second by ``depth`` mm along ``way`` (3,), a unit vector, frees it; no shift below ``least`` does.

    A ``depth`` below 0 is the width of a gap between the two.
    """

    least: float
    depth: float
    way: Floats


def penetration(first: Floats, second: Floats) -> Penetration:
    """Of the convex hulls of two sets of points (n, 3) mm in one frame."""
    corners = _support(first, second, FIRST_WAYS)
    reach = np.einsum("ij,ij->i", corners, FIRST_WAYS)
    best, way = float(reach.min()), FIRST_WAYS[int(np.argmin(reach))]
    try:
        inner = ConvexHull(np.unique(corners, axis=0), incremental=True)
    except QhullError:
        return Penetration(-np.inf, best, way)
    for _ in range(MOST_ROUNDS):
        check_time()
        far = -inner.equations[:, 3]
        nearest = np.argsort(far, kind="stable")[:FACETS_TRIED]
        normals = inner.equations[nearest, :3]
        corners = _support(first, second, normals)
        reach = np.einsum("ij,ij->i", corners, normals)
        row = int(np.argmin(reach))
        if reach[row] < best:
            best, way = float(reach[row]), normals[row]
        farther = reach - far[nearest] > TOLERANCE / 2
        if best < 0 or best - far[nearest[0]] <= TOLERANCE or not farther.any():
            break
        inner.add_points(np.unique(corners[farther], axis=0))
    return Penetration(float(-inner.equations[:, 3].max()), best, np.array(way))


def _support(first: Floats, second: Floats, ways: Floats) -> Floats:
    """The point of the solid of differences that lies farthest along each of ``ways`` (k, 3)."""
    return np.asarray(first[np.argmax(ways @ first.T, axis=1)] - second[np.argmin(ways @ second.T, axis=1)])


def _first_ways() -> Floats:
    ways = np.array([way for way in product((-1.0, 0.0, 1.0), repeat=3) if any(way)])
    return np.asarray(ways / np.linalg.norm(ways, axis=1, keepdims=True))


FIRST_WAYS = _first_ways()
"""Directions (26, 3) in which the first corners of the polytope lie."""
