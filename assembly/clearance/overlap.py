"""Two solids that claim one place: how much, where, and the shortest way found to move one of them out.

Volume and shape come from exact booleans. The way out is found by trying: a few dozen directions are ranked
by how far the overlap reaches along them, and along the best of them the second solid is moved until a
distance query and an inside test both say that it is free. So the depth told is one that truly frees it.
"""

from __future__ import annotations

import numpy as np

from assembly.clearance.distance import Probe, meets
from assembly.clearance.outcome import Overlap, Setting
from assembly.geometry.mesh import Floats, Mesh
from assembly.geometry.rotations import across, unit
from assembly.geometry.solids import intersection

DIRECTIONS_TRIED = 10
AXES = 6
CLOSE_TOGETHER = 0.985
"""Cosine (10°) above which two directions count as one."""
FIRST_LEAN = 0.05
"""rad by which the best direction is leaned over to find a shorter way out."""
LEANS = 6
SPREAD_DIRECTIONS = 64
NORMALS_USED = 24
GROWTH = 1.25
PRECISION = 0.005
"""mm to which the way out is found, on the long side."""


def overlap_volume(a: Probe, b: Probe, world_from_a: Floats, world_from_b: Floats) -> tuple[float, Mesh]:
    """Volume in mm³ that both solids claim, and the solid of it in the world."""
    solid = intersection(a.solid.mesh.moved(world_from_a), b.solid.mesh.moved(world_from_b))
    return max(solid.volume, 0.0), solid


def overlap_at(a: Probe, b: Probe, world_from_a: Floats, world_from_b: Floats, at: Setting) -> Overlap:
    """The overlap of ``a`` and ``b`` at one posture, with the shortest way out found for ``b``."""
    amount, solid = overlap_volume(a, b, world_from_a, world_from_b)
    if not len(solid.faces):
        return Overlap(at, 0.0, (0.0, 0.0, 0.0), 0.0, _point(world_from_b[:3, 3]), solid)
    depth, direction = _way_out(a, b, world_from_a, world_from_b, solid)
    return Overlap(at, depth, _point(direction), amount, _point(solid.bounds.mean(axis=0)), solid)


def _way_out(a: Probe, b: Probe, world_from_a: Floats, world_from_b: Floats, solid: Mesh) -> tuple[float, Floats]:
    best, way = np.inf, np.array([1.0, 0.0, 0.0])
    for direction in _most_promising(_candidates(solid), solid):
        far = _free_after(a, b, world_from_a, world_from_b, direction, _extent(solid, direction), best)
        if far < best:
            best, way = far, direction
    lean = FIRST_LEAN
    for _ in range(LEANS):
        sideways = np.stack(across(way))
        tries = [unit(way + sign * lean * side) for side in sideways for sign in (1, -1)]
        found = [_free_after(a, b, world_from_a, world_from_b, tried, 0.9 * best, best) for tried in tries]
        if min(found) < best:
            best, way = min(found), tries[int(np.argmin(found))]
        else:
            lean /= 3
    return best, way


def _extent(solid: Mesh, direction: Floats) -> float:
    return float(np.ptp(solid.vertices @ direction))


def _most_promising(directions: Floats, solid: Mesh) -> list[Floats]:
    """The axes, and of the others those along which the overlap is thinnest, no two of them close together."""
    chosen = list(directions[:AXES])
    extents = np.ptp(directions @ solid.vertices.T, axis=1)
    for index in np.argsort(extents, kind="stable"):
        if len(chosen) >= AXES + DIRECTIONS_TRIED:
            break
        if max(float(directions[index] @ other) for other in chosen) < CLOSE_TOGETHER:
            chosen.append(directions[index])
    return sorted(chosen, key=lambda direction: _extent(solid, direction))


def _free_after(
    a: Probe, b: Probe, world_from_a: Floats, world_from_b: Floats, way: Floats, start: float, limit: float
) -> float:
    """Smallest shift of ``b`` along ``way`` found to free it; infinite where it would exceed ``limit``."""

    def meeting(far: float) -> bool:
        moved = world_from_b.copy()
        moved[:3, 3] += far * way
        return meets(a, b, world_from_a, moved)

    low, high = 0.0, max(start, PRECISION)
    while meeting(high):
        low, high = high, GROWTH * high + PRECISION
        if low >= limit:
            return np.inf
    while high - low > PRECISION:
        middle = (low + high) / 2
        low, high = (middle, high) if meeting(middle) else (low, middle)
    return high


def _candidates(solid: Mesh) -> Floats:
    """Directions worth trying (k, 3): the axes, the largest facets of the overlap, and an even spread."""
    a, b, c = (solid.vertices[solid.faces[:, k]] for k in range(3))
    normals = np.cross(b - a, c - a)
    size = np.linalg.norm(normals, axis=1)
    largest = np.argsort(-size, kind="stable")[: 8 * NORMALS_USED]
    units = normals[largest[size[largest] > 0]] / size[largest[size[largest] > 0], None]
    _, first = np.unique(units.round(2), axis=0, return_index=True)
    own = units[np.sort(first)[:NORMALS_USED]]
    k = np.arange(SPREAD_DIRECTIONS) + 0.5
    height, turn = 1 - 2 * k / SPREAD_DIRECTIONS, np.pi * (1 + 5**0.5) * k
    ring = np.sqrt(1 - height**2)
    spread = np.column_stack([ring * np.cos(turn), ring * np.sin(turn), height])
    axes = np.concatenate([np.eye(3), -np.eye(3)])
    return np.concatenate([axes, own, -own, spread])


def _point(values: Floats) -> Setting:
    return tuple(float(value) for value in values)
