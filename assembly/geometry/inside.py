"""Which points lie inside a surface, by winding numbers: right for hollows, swallowed bodies and small holes."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats, Indices, Mesh
from assembly.time_limit import check_time

_BLOCK = 1 << 13
"""Pairs of point and facet worked on at once: few enough to stay in the processor's cache."""
_FEW = 1 << 16
"""Pairs of point and vertex up to which all rays are made at once, instead of gathering those that each block needs."""
_SAMPLES = 16


def winding_number(points: Floats, mesh: Mesh) -> Floats:
    """How often the surface goes round each of ``points`` (n, 3) mm: 1 inside, 0 outside, (n,).

    The number is -1 inside a surface that is inside out, and adds up over bodies that run into each
    other. It is the sum of the facets' signed solid angles over 4π, so a missing facet changes it by
    its own angle only. Solid angle of a triangle: Van Oosterom and Strackee 1983, IEEE Transactions on
    Biomedical Engineering 30, pages 125 to 126 (from memory).
    """
    points = np.asarray(points, dtype=np.float64).reshape(-1, 3)
    total = np.zeros(len(points))
    if len(points) * len(mesh.vertices) <= _FEW:
        rays = mesh.vertices.T[:, None] - points.T[:, :, None]
        for faces in _blocks(len(mesh.faces), _BLOCK):
            total += _solid_angles(rays, mesh.faces[faces])
        return total / (4 * np.pi)
    for faces in _blocks(len(mesh.faces), _BLOCK):
        check_time()
        used, corners = np.unique(mesh.faces[faces], return_inverse=True)
        corners = corners.reshape(-1, 3)
        for some in _blocks(len(points), max(1, _BLOCK // len(corners))):
            total[some] += _solid_angles(mesh.vertices[used].T[:, None] - points[some].T[:, :, None], corners)
    return total / (4 * np.pi)


def contains(mesh: Mesh, points: Floats) -> NDArray[np.bool_]:
    """Whether each of ``points`` (n, 3) mm lies inside ``mesh``, (n,); not defined for points on the surface itself."""
    points = np.asarray(points, dtype=np.float64).reshape(-1, 3)
    inside = np.zeros(len(points), dtype=np.bool_)
    if not len(mesh.faces):
        return inside
    low, high = mesh.bounds
    near = np.flatnonzero(np.all((points >= low) & (points <= high), axis=1))
    inside[near] = np.abs(winding_number(points[near], mesh)) > 0.5
    return inside


def encloses(outer: Mesh, inner: Mesh) -> bool:
    """Whether ``inner`` lies inside ``outer``, judged by a sample of its vertices; both are single closed shells."""
    sample = inner.vertices[:: max(1, len(inner.vertices) // _SAMPLES)]
    # Most shells are not enclosed, and the first vertex shows it.
    return bool(contains(outer, sample[:1]).all() and contains(outer, sample[1:]).all())


def _blocks(count: int, size: int) -> Iterator[slice]:
    return (slice(start, start + size) for start in range(0, count, size))


def _solid_angles(rays: Floats, corners: Indices) -> Floats:
    """Signed solid angle (n,) of all facets ``corners`` (m, 3) seen along ``rays`` (3, n, v) to the vertices."""
    x, y, z = rays
    length = np.sqrt(x * x + y * y + z * z)
    ax, ay, az, la = (part[:, corners[:, 0]] for part in (x, y, z, length))
    bx, by, bz, lb = (part[:, corners[:, 1]] for part in (x, y, z, length))
    cx, cy, cz, lc = (part[:, corners[:, 2]] for part in (x, y, z, length))
    triple = ax * (by * cz - bz * cy) + ay * (bz * cx - bx * cz) + az * (bx * cy - by * cx)
    base = la * lb * lc + (ax * bx + ay * by + az * bz) * lc
    base += (bx * cx + by * cy + bz * cz) * la + (cx * ax + cy * ay + cz * az) * lb
    angles: Floats = 2 * np.arctan2(triple, base).sum(axis=1)
    return angles
