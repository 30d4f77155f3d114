"""Which facets of a surface meet away from the corners they share: a tree of bounds, then edges against facets."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats, Indices
from assembly.time_limit import check_time

_DIRECTIONS = np.array(
    [(1, 0, 0), (0, 1, 0), (0, 0, 1), (1, 1, 0), (1, -1, 0), (1, 0, 1), (1, 0, -1), (0, 1, 1), (0, 1, -1)], dtype=float
)
"""Along which facets are bounded: with the diagonals, long thin facets that lie askew are distinguished too."""
_AT_ONCE = 1 << 16
"""Pairs worked on at once: bounds the memory whatever the surface."""
_SLACK = 1e-9
"""mm within which an edge counts as meeting a facet: above rounding, below what any file means."""


class Meetings(NamedTuple):
    """Pairs (k, 2) of facets that meet, a point (k, 3) of each meeting and how far (k,) the facets pass each other."""

    pairs: Indices
    points: Floats
    depths: Floats


def meetings(vertices: Floats, faces: Indices) -> Meetings:
    """Where facets of ``faces`` (m, 3) over ``vertices`` (n, 3) mm cut or touch away from corners they share.

    Facets that share an edge, and facets in one plane, are left out: where those lie on each other, the facets
    next to them meet. The depth is 0 if they only touch.
    """
    triangles = vertices[faces]
    slack = max(_SLACK, 1e-13 * float(np.abs(vertices).max(initial=0.0)))
    found = [_meeting(triangles, faces, pairs, slack) for pairs in _near(triangles, slack)]
    if not found:
        return Meetings(np.empty((0, 2), dtype=np.int64), np.empty((0, 3)), np.empty(0))
    return Meetings(*(np.concatenate(part) for part in zip(*found, strict=True)))


def _near(triangles: Floats, slack: float) -> Iterator[Indices]:
    """Pairs (k, 2), lower number first, of ``triangles`` (m, 3, 3) whose bounds overlap, some at a time."""
    order = np.argsort(_morton(triangles.mean(axis=1)), kind="stable")
    a, b, c = (_DIRECTIONS @ triangles[order, k].T for k in range(3))
    low, high = [np.minimum(np.minimum(a, b), c) - slack], [np.maximum(np.maximum(a, b), c) + slack]
    while (count := low[-1].shape[1]) > 1:
        low.append(np.minimum(low[-1][:, ::2], low[-1][:, np.minimum(np.arange(1, count + 1, 2), count - 1)]))
        high.append(np.maximum(high[-1][:, ::2], high[-1][:, np.minimum(np.arange(1, count + 1, 2), count - 1)]))
    waiting = [(len(low) - 1, np.zeros((1, 2), dtype=np.int64))]
    while waiting:
        check_time()
        level, pairs = waiting.pop()
        if len(pairs) > _AT_ONCE:
            half = len(pairs) // 2
            waiting += [(level, pairs[half:]), (level, pairs[:half])]
        elif level == 0:
            yield np.sort(order[pairs[pairs[:, 0] != pairs[:, 1]]], axis=1)
        else:
            one, other = _children(pairs, low[level - 1].shape[1])
            for bottom, top in zip(low[level - 1], high[level - 1], strict=True):
                near = np.flatnonzero((bottom[one] <= top[other]) & (bottom[other] <= top[one]))
                one, other = one[near], other[near]
            waiting.append((level - 1, np.stack([one, other], axis=1)))


def _children(pairs: Indices, count: int) -> tuple[Indices, Indices]:
    """The pairs of nodes one level down, of ``count`` there, each once: the one (k,) and the other (k,)."""
    one, other = 2 * pairs.T
    lower, upper = np.concatenate([one, one, one + 1, one + 1]), np.concatenate([other, other + 1, other, other + 1])
    once = np.flatnonzero((lower <= upper) & (upper < count))
    return lower[once], upper[once]


def _morton(points: Floats) -> Indices:
    """Number (n,) of each of ``points`` (n, 3) along a curve that keeps near points near (Morton's order)."""
    low = points.min(axis=0)
    cells = ((points - low) * (1023 / max(float((points - low).max()), 1e-300))).astype(np.int64)
    bits = np.arange(10)
    spread = ((cells[:, :, None] >> bits & 1) << 3 * bits).sum(axis=2)
    code: Indices = spread @ np.array([1, 2, 4])
    return code


def _meeting(triangles: Floats, faces: Indices, pairs: Indices, slack: float) -> Meetings:
    """Those of ``pairs`` (k, 2) that meet."""
    one, other = faces[pairs.T]
    equal = np.stack([one[:, k, None] == other for k in range(3)], axis=1)
    rows = np.flatnonzero(np.count_nonzero(equal.reshape(-1, 9), axis=1) < 2)
    for first in (0, 1):
        away, normal = _heights(triangles, pairs[rows], equal[rows], first)
        shared = np.isnan(away)
        beside = np.all(shared | (away > slack), axis=1) | np.all(shared | (away < -slack), axis=1)
        in_plane = np.all(shared | (np.abs(away) <= slack), axis=1) & (np.linalg.norm(normal, axis=1) > 0)
        rows = rows[~beside & ~in_plane]
    pairs, equal = pairs[rows], equal[rows]
    total, count, depths = np.zeros((len(rows), 3)), np.zeros(len(rows)), []
    for first in (0, 1):
        points, met, depth = _pierced(triangles, pairs, equal, first, slack)
        total += np.where(met[..., None], points, 0).sum(axis=1)
        count += met.sum(axis=1)
        depths.append(depth)
    both = np.flatnonzero(count)
    shared = (np.count_nonzero(equal, axis=2) > 0)[..., None]
    total += np.where(shared, triangles[pairs[:, 0]], 0).sum(axis=1)
    count += shared.sum(axis=(1, 2))
    return Meetings(pairs[both], total[both] / count[both, None], np.min(depths, axis=0)[both])


def _heights(triangles: Floats, pairs: Indices, equal: NDArray[np.bool_], first: int) -> tuple[Floats, Floats]:
    """Heights (k, 3) of the corners of the second of each pair over the plane of the first, and its normal (k, 3).

    NaN for a shared corner. A facet without area has no plane: the heights are then 0.
    """
    base, other = triangles[pairs[:, first]], triangles[pairs[:, 1 - first]]
    normal = np.cross(base[:, 1] - base[:, 0], base[:, 2] - base[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-300)
    heights = np.einsum("kij,kj->ki", other - base[:, :1], normal)
    return np.where(equal.any(axis=1 + first), np.nan, heights), normal


def _pierced(
    triangles: Floats, pairs: Indices, equal: NDArray[np.bool_], first: int, slack: float
) -> tuple[Floats, NDArray[np.bool_], Floats]:
    """Where the edges of the second facet of each pair meet the first: points (k, 3, 3), whether (k, 3), depth (k,)."""
    heights, normal = _heights(triangles, pairs, equal, first)
    base, other = triangles[pairs[:, first]], triangles[pairs[:, 1 - first]]
    start, end = heights, np.roll(heights, -1, axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        across = (np.minimum(start, end) <= slack) & (np.maximum(start, end) >= -slack) & (start != end)
        part = np.clip(np.where(across, start / (start - end), 0), 0, 1)
    points = other + part[..., None] * (np.roll(other, -1, axis=1) - other)
    sides = np.roll(base, -1, axis=1) - base
    inward = np.cross(normal[:, None], sides)
    inward /= np.maximum(np.linalg.norm(inward, axis=2, keepdims=True), 1e-300)
    room = np.einsum("kpsj,ksj->kps", points[:, :, None] - base[:, None], inward).min(axis=2)
    met = across & (room >= -slack)
    held = np.where(np.isnan(heights), 0, heights)
    return points, met, np.maximum(0, np.minimum(held.max(axis=1), -held.min(axis=1)))
