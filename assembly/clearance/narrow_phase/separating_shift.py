"""The shortest way found to take one solid out of another, where they need not be convex: by trying.

A few dozen directions are ranked by how far what the two share reaches along them, and along the best of them the
second solid is moved until a distance query and an inside test both say that it is free.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assembly.clearance.narrow_phase.distance import CollisionModel, meets
from assembly.geometry.mesh import Floats, Mesh
from assembly.geometry.rotations import across, unit

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


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """Two solids where they stand: the way out is reported in the world."""

    a: CollisionModel
    b: CollisionModel
    world_from_a: Floats
    world_from_b: Floats

    def meeting(self, shift: Floats) -> bool:
        """Whether they meet once the second is moved by ``shift`` (3,) mm."""
        moved = self.world_from_b.copy()
        moved[:3, 3] += shift
        return meets(self.a, self.b, self.world_from_a, moved)


def way_out(placed: Placed, shared: Mesh, far: float, way: Floats) -> tuple[float, Floats]:
    """Depth in mm and direction. ``shared`` is what both claim; moving by ``far`` along ``way`` is known to free."""
    best = far
    for direction in _most_promising(_candidates(shared), shared):
        tried = _free_after(placed, direction, _extent(shared, direction), best)
        if tried < best:
            best, way = tried, direction
    lean = FIRST_LEAN
    for _ in range(LEANS):
        sideways = np.stack(across(way))
        tries = [unit(way + sign * lean * side) for side in sideways for sign in (1, -1)]
        found = [_free_after(placed, tried, 0.9 * best, best) for tried in tries]
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


def _free_after(placed: Placed, way: Floats, start: float, limit: float) -> float:
    """Smallest shift along ``way`` found to free the second; infinite where it would exceed ``limit``."""
    low, high = 0.0, max(start, PRECISION)
    while placed.meeting(high * way):
        low, high = high, GROWTH * high + PRECISION
        if low >= limit:
            return np.inf
    while high - low > PRECISION:
        middle = (low + high) / 2
        low, high = (middle, high) if placed.meeting(middle * way) else (low, middle)
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
