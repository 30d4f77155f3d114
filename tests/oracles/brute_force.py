"""Distance of two surfaces of triangles by looking at every pair of triangles; double precision, no tree, no library.

Every candidate is the distance of two points that do lie on the two shapes, so a result is never too small but by
rounding. A mesh wholly inside another has a positive distance here: this measures surfaces, not solids.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def point_triangle_distance(point: ArrayLike, triangle: ArrayLike) -> float:
    """Distance of ``point`` (3,) and ``triangle`` (3, 3), which may be a line or a point."""
    return float(np.sqrt(_point_triangle(_floats(point), _floats(triangle))))


def segment_distance(first: ArrayLike, second: ArrayLike) -> float:
    """Distance of two segments (2, 3), which may be parallel, nearly parallel or of no length."""
    p, q = _floats(first), _floats(second)
    return float(np.sqrt(_segment_segment(p[0], p[1], q[0], q[1])))


def triangle_distance(first: ArrayLike, second: ArrayLike) -> float:
    """Distance of two triangles (3, 3); 0 to rounding where they touch or cut through each other."""
    return float(np.sqrt(_triangle_triangle(_floats(first), _floats(second), np.inf)))


def mesh_distance(vertices_a: ArrayLike, faces_a: ArrayLike, vertices_b: ArrayLike, faces_b: ArrayLike) -> float:
    """Distance of two surfaces, ``vertices`` (n, 3) and ``faces`` (m, 3); 0 to rounding where they cross."""
    a = np.ascontiguousarray(_floats(vertices_a)[np.asarray(faces_a, dtype=np.int64)])
    b = np.ascontiguousarray(_floats(vertices_b)[np.asarray(faces_b, dtype=np.int64)])
    if not (len(a) and len(b) and np.isfinite(a).all() and np.isfinite(b).all()):
        raise ValueError("both surfaces need triangles with finite corners")
    return float(np.sqrt(_all_pairs(a, b, *_balls(a), *_balls(b))))


def _floats(values: ArrayLike) -> Floats:
    return np.ascontiguousarray(values, dtype=np.float64)


def _balls(triangles: Floats) -> tuple[Floats, Floats]:
    """Centre (m, 3) and radius (m,) of a ball round each triangle."""
    centres = triangles.mean(axis=1)
    return centres, np.linalg.norm(triangles - centres[:, None], axis=2).max(axis=1)


@njit(cache=True)
def _dot(a, b):
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


@njit(cache=True)
def _cross(a, b):
    return np.array((a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]))


@njit(cache=True)
def _squared(a, b):
    return (a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2 + (a[2] - b[2]) ** 2


@njit(cache=True)
def _parameter(point, start, along):
    """Where on the segment from ``start``, 0 to 1, ``point`` is nearest."""
    length = _dot(along, along)
    return 0.0 if length == 0.0 else min(1.0, max(0.0, _dot(point - start, along) / length))


@njit(cache=True)
def _point_segment(point, start, end):
    along = end - start
    return _squared(point, start + _parameter(point, start, along) * along)


@njit(cache=True)
def _segment_segment(p0, p1, q0, q1):
    """Least of the four ends against the other segment, and of the common normal of the two lines where it exists.

    The common normal comes from the cross product, whose error grows with the first power of how parallel the lines
    are, and not from the determinant of the normal equations, whose error grows with the square.
    """
    u, v = p1 - p0, q1 - q0
    best = min(_point_segment(p0, q0, q1), _point_segment(p1, q0, q1))
    best = min(best, _point_segment(q0, p0, p1), _point_segment(q1, p0, p1))
    normal = _cross(u, v)
    size = _dot(normal, normal)
    if size > 0.0:
        s = min(1.0, max(0.0, _dot(_cross(q0 - p0, v), normal) / size))
        t = _parameter(p0 + s * u, q0, v)
        s = _parameter(q0 + t * v, p0, u)
        best = min(best, _squared(p0 + s * u, q0 + t * v))
    return best


@njit(cache=True)
def _point_triangle(point, triangle):
    """Least of the three edges, and of the foot on the plane where it falls inside, put together from the corners."""
    a, b, c = triangle[0], triangle[1], triangle[2]
    best = min(_point_segment(point, a, b), _point_segment(point, b, c), _point_segment(point, c, a))
    normal = _cross(b - a, c - a)
    size = _dot(normal, normal)
    if size > 0.0:
        towards_b = _dot(_cross(point - a, c - a), normal) / size
        towards_c = _dot(_cross(b - a, point - a), normal) / size
        if towards_b >= 0.0 and towards_c >= 0.0 and towards_b + towards_c <= 1.0:
            best = min(best, _squared(point, a + towards_b * (b - a) + towards_c * (c - a)))
    return best


@njit(cache=True)
def _piercing(start, end, triangle):
    """From the triangle to the point where a segment meets its plane: 0 to rounding where it passes through.

    The point is measured, not judged by signs, which rounding turns at will where the segment lies in the plane.
    """
    normal = _cross(triangle[1] - triangle[0], triangle[2] - triangle[0])
    below, above = _dot(start - triangle[0], normal), _dot(end - triangle[0], normal)
    if below * above > 0.0 or below == above:
        return np.inf
    return _point_triangle(start + below / (below - above) * (end - start), triangle)


@njit(cache=True)
def _triangle_triangle(a, b, best):
    """The smaller of ``best`` and the squared distance of two triangles."""
    for i in range(3):
        j = (i + 1) % 3
        best = min(best, _piercing(a[i], a[j], b), _piercing(b[i], b[j], a))
        best = min(best, _point_triangle(a[i], b), _point_triangle(b[i], a))
        for k in range(3):
            best = min(best, _segment_segment(a[i], a[j], b[k], b[(k + 1) % 3]))
    return best


@njit(cache=True)
def _all_pairs(a, b, centres_a, radii_a, centres_b, radii_b):
    """Squared distance; a pair is left out only where the balls round its triangles are farther apart than the best.

    The pair whose centres are nearest comes first, so that few others are left to be measured.
    """
    first, second, nearest = 0, 0, np.inf
    for i in range(len(a)):
        for j in range(len(b)):
            apart = _squared(centres_a[i], centres_b[j])
            if apart < nearest:
                first, second, nearest = i, j, apart
    best = _triangle_triangle(a[first], b[second], np.inf)
    for i in range(len(a)):
        for j in range(len(b)):
            reach = np.sqrt(best) + radii_a[i] + radii_b[j]
            if _squared(centres_a[i], centres_b[j]) <= reach * reach * (1.0 + 1e-12):
                best = _triangle_triangle(a[i], b[j], best)
    return best
