"""Where two solids are as near as at their nearest points: the corners of the patch over which they lie flush.

A face over a face, an edge along a face or along an edge have no one pair of nearest points. A figure then changes as
the least over the patch, and over a patch in one plane that least is at one of its corners (closed form: linear).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import ConvexHull, QhullError

from assembly.geometry.mesh import Floats, Indices, Mesh
from assembly.geometry.rotations import across

FLUSH = 1e-4
"""mm off the plane through the nearest point that still count as flush."""
ONE_PLACE = 1e-3
"""mm: corners of a patch that are nearer to each other are one."""
MOST_CORNERS = 8
MOST_EDGES = 400
"""Edges of one side; of more the corners alone are looked at."""


@dataclass(frozen=True, slots=True, eq=False)
class _Face:
    """What of a solid lies in the plane: corners (v, 2) in it, and which of them edges and facets join."""

    corners: Floats
    edges: Indices
    facets: Indices


def flush_corners(a: Mesh, b: Mesh, points: tuple[Floats, Floats], normal: Floats) -> Floats:
    """Corners (k, 3) of the patch on ``a``, both solids in one frame; the nearest point alone if there is none.

    ``points`` are the nearest ones of a and b, and ``normal`` points from a to b.
    """
    plane = np.stack(across(normal))
    first = _in_plane(a, points[0], normal, plane)
    second = _in_plane(b, points[1], -normal, plane)
    found = [_held(first, second), _held(second, first), _crossings(first, second)]
    corners = _hull(np.concatenate(found))
    if len(corners) < 2:
        return points[0][None]
    return np.asarray(points[0] + (corners - plane @ points[0]) @ plane)


def _in_plane(mesh: Mesh, point: Floats, outward: Floats, plane: Floats) -> _Face:
    """What of ``mesh`` lies in the plane through ``point``, none of its facets that only touch it."""
    there = np.abs((mesh.vertices - point) @ outward) <= FLUSH
    number = np.cumsum(there) - 1
    facets = mesh.faces[there[mesh.faces].all(axis=1)]
    sides = np.concatenate([mesh.faces[:, [0, 1]], mesh.faces[:, [1, 2]], mesh.faces[:, [2, 0]]])
    sides = np.unique(np.sort(sides[there[sides].all(axis=1)], axis=1), axis=0)
    return _Face(mesh.vertices[there] @ plane.T, number[sides][:MOST_EDGES], number[facets])


def _held(one: _Face, other: _Face) -> Floats:
    """Corners (k, 2) of the one that lie on a facet, an edge or a corner of the other."""
    held = np.zeros(len(one.corners), dtype=bool)
    for a, b in other.corners[other.edges].reshape(-1, 2, 2):
        way = b - a
        share = np.clip((one.corners - a) @ way / max(float(way @ way), 1e-300), 0.0, 1.0)
        held |= np.linalg.norm(one.corners - a - share[:, None] * way, axis=1) <= ONE_PLACE
    for corners in other.corners[other.facets].reshape(-1, 3, 2):
        held |= _inside(corners, one.corners)
    for corner in other.corners:
        held |= np.linalg.norm(one.corners - corner, axis=1) <= ONE_PLACE
    return one.corners[held]


def _inside(triangle: Floats, points: Floats) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    ways = np.roll(triangle, -1, axis=0) - triangle
    off = points[:, None] - triangle
    turned = ways[:, 0] * off[..., 1] - ways[:, 1] * off[..., 0]
    return np.asarray((turned >= 0).all(axis=1) | (turned <= 0).all(axis=1))


def _crossings(one: _Face, other: _Face) -> Floats:
    """Places (k, 2) at which an edge of the one crosses an edge of the other."""
    a, b = (one.corners[one.edges].reshape(-1, 2, 2)[:, k, None] for k in range(2))
    c, d = (other.corners[other.edges].reshape(-1, 2, 2)[None, :, k] for k in range(2))
    way, cut, apart = b - a, d - c, c - a
    size = way[..., 0] * cut[..., 1] - way[..., 1] * cut[..., 0]
    lengths = np.linalg.norm(way, axis=-1) * np.linalg.norm(cut, axis=-1)
    crossing = np.abs(size) > 1e-9 * np.maximum(lengths, 1e-300)
    safe = np.where(crossing, size, 1.0)
    share = (apart[..., 0] * cut[..., 1] - apart[..., 1] * cut[..., 0]) / safe
    far = (apart[..., 0] * way[..., 1] - apart[..., 1] * way[..., 0]) / safe
    met = crossing & (share >= 0) & (share <= 1) & (far >= 0) & (far <= 1)
    return np.asarray((a + share[..., None] * way)[met])


def _hull(points: Floats) -> Floats:
    """The corners of what ``points`` (k, 2) span, at most ``MOST_CORNERS`` of them; one where they are one place."""
    if len(points) < 2 or np.ptp(points, axis=0).max() <= ONE_PLACE:
        return points[:1]
    try:
        corners = points[ConvexHull(points).vertices]
    except QhullError:
        way = points[np.argmax(np.linalg.norm(points - points[0], axis=1))] - points[0]
        along = points @ way
        return points[[int(np.argmin(along)), int(np.argmax(along))]]
    if len(corners) <= MOST_CORNERS:
        return np.asarray(corners)
    turns = 2 * np.pi * np.arange(MOST_CORNERS) / MOST_CORNERS
    reach = corners @ np.stack([np.cos(turns), np.sin(turns)])
    return np.asarray(corners[np.unique(reach.argmax(axis=0))])
