"""A shape as drawn at rest, for questions of what it touches and what it is near to: only as much of it as is asked."""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from assembly.clearance.narrow_phase.checked_pairs import Solid
from assembly.clearance.narrow_phase.distance import CollisionModel, nearest
from assembly.geometry.inside import contains
from assembly.geometry.mesh import Floats, Mesh
from assembly.model.machine import Shape

_STILL = np.eye(4)
_REACHES = (10.0, 50.0, np.inf)
"""mm: triangles are looked at in this order of how near they may be."""


class DrawnShape:
    """One shape of a part, made ready for questions of distance as far as they are asked."""

    def __init__(self, part: str, shape: Shape) -> None:
        self.part, self.shape = part, shape

    @cached_property
    def corners(self) -> tuple[Floats, Floats]:
        """Lowest and highest corner (m, 3) of the box round each triangle."""
        at = self.shape.mesh.vertices[self.shape.mesh.faces]
        return at.min(axis=1), at.max(axis=1)

    def part_within(self, low: Floats, high: Floats) -> CollisionModel | None:
        """The triangles that reach into the box from ``low`` to ``high``; None if there are none."""
        own_low, own_high = self.corners
        inside = np.asarray(((own_low <= high) & (own_high >= low)).all(axis=1))
        return _probe(_picked(self.shape.mesh, inside)) if inside.any() else None

    def apart_at_least(self, low: Floats, high: Floats) -> float:
        """A lower bound in mm on the distance to the box from ``low`` to ``high``."""
        own_low, own_high = self.shape.mesh.bounds
        return float(np.linalg.norm(np.maximum(0.0, np.maximum(low - own_high, own_low - high))))

    def is_within(self, other: DrawnShape, reach: float) -> bool:
        """Whether the two come as near as ``reach`` mm, or one holds the other."""
        if self.apart_at_least(*other.shape.mesh.bounds) > reach:
            return False
        bounds = [each.shape.mesh.bounds for each in (self, other)]
        low, high = np.max([low for low, _ in bounds], axis=0), np.min([high for _, high in bounds], axis=0)
        low, high = np.minimum(low, high) - reach, np.maximum(low, high) + reach
        a, b = self.part_within(low, high), other.part_within(low, high)
        if a is not None and b is not None and nearest(a, b, _STILL, _STILL).distance <= reach:
            return True
        return self.holds(other.shape.mesh.vertices[0]) or other.holds(self.shape.mesh.vertices[0])

    def touches(self, other: DrawnShape, slack: float) -> bool:
        """Whether the two are drawn ``slack`` mm apart or less."""
        return self.is_within(other, slack + self.shape.mesh.surface_error + other.shape.mesh.surface_error)

    def holds(self, at: Floats) -> bool:
        """Whether a point (3,) lies inside."""
        return bool(contains(self.shape.mesh, at[None])[0])

    def distance(self, other: DrawnShape) -> float:
        """Mm between the surfaces.

        Only triangles that may be nearer than some corner of the one is to a corner of the other are looked at.
        """
        most, near = np.inf, self.shape.mesh.vertices[0]
        for mesh in (other.shape.mesh, self.shape.mesh, other.shape.mesh):
            apart = np.linalg.norm(mesh.vertices - near, axis=1)
            most, near = float(apart.min()), mesh.vertices[int(apart.argmin())]
        a, b = self._nearer_than(most, other.shape.mesh.bounds), other._nearer_than(most, self.shape.mesh.bounds)
        return nearest(a, b, _STILL, _STILL).distance

    def _nearer_than(self, reach: float, box: Floats) -> CollisionModel:
        """The triangles that may come as near as ``reach`` mm to a ``box`` (2, 3)."""
        own_low, own_high = self.corners
        free = np.linalg.norm(np.maximum(0.0, np.maximum(box[0] - own_high, own_low - box[1])), axis=1)
        return _probe(_picked(self.shape.mesh, free <= reach * (1 + 1e-9)))

    def from_surface(self, at: Floats) -> float:
        """Mm from a point (3,) to the surface, from inside too."""
        own_low, own_high = self.corners
        free = np.linalg.norm(np.maximum(0.0, np.maximum(at - own_high, own_low - at)), axis=1)
        for reach in _REACHES:
            corners = self.shape.mesh.vertices[self.shape.mesh.faces[free <= reach]]
            if len(corners) and (found := float(_to_triangles(at, corners).min())) <= reach:
                return found
        return np.inf


def _to_triangles(at: Floats, corners: Floats) -> Floats:
    """Distance (m,) mm from a point (3,) to triangles with the ``corners`` (m, 3, 3).

    To the plane where the point's foot lies inside the triangle, else to the nearest of its sides.
    """
    sides = np.roll(corners, -1, axis=1) - corners
    away = at - corners
    share = np.clip((away * sides).sum(axis=2) / np.maximum((sides**2).sum(axis=2), 1e-300), 0.0, 1.0)
    apart = np.linalg.norm(away - share[..., None] * sides, axis=2).min(axis=1)
    normal = np.cross(sides[:, 0], sides[:, 1])
    beside = (np.cross(sides, away) * normal[:, None]).sum(axis=2)
    height = np.abs((away[:, 0] * normal).sum(axis=1)) / np.maximum(np.linalg.norm(normal, axis=1), 1e-300)
    return np.asarray(np.where((beside >= 0).all(axis=1) & normal.any(axis=1), height, apart))


def _picked(mesh: Mesh, kept: NDArray[np.bool_]) -> Mesh:
    """The triangles ``kept`` (m,) of a mesh, over the vertices that they use."""
    used, again = np.unique(mesh.faces[kept], return_inverse=True)
    return Mesh(mesh.vertices[used], again.reshape(-1, 3))


def _probe(mesh: Mesh) -> CollisionModel:
    return CollisionModel(Solid(mesh, ("",), (0,), (mesh,)))
