"""Whether a point of one body stays inside a solid of another all through a cell, whatever the solid's shape.

At the centre of the cell the winding number tells whether the point lies inside. It can leave only through a facet, and
to go through a facet it must cross the plane of that facet. So it stays inside where every facet is either farther than
the point can travel, or the point stays on one side of the facet's plane. Neither asks whether the solid is convex:
walls of holes and slots, hollows and the inside of a bend are facets like any others.

Both margins are more than the solid's surface error, so the point keeps that distance from the facets, and no point of
the true surface is farther from them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assembly.geometry.inside import contains
from assembly.geometry.mesh import Flags, Floats, Indices, Mesh
from assembly.geometry.rotations import inverse_rigid
from assembly.kinematics.approach import Cloud, shifts_along
from assembly.kinematics.cell_motion import CellMotion
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.travel import travel

GRAIN = 1e-3
"""mm that every proof keeps over the surface error: far above the rounding of planes and of what moves."""
THINNEST = 1e-7
"""mm: a facet that is thinner lies within this of an edge that its neighbour has too, and is left out."""
MOST_PLANES = 64
"""A cell in which a point can reach more planes than this is not judged, but left to be cut."""
TESTED = 48
"""Points of which it is asked together whether they lie inside: one that does is enough."""
FLAT = 9
"""Decimals in which the planes of facets that count as one agree, seen from the middle of the solid."""


@dataclass(frozen=True, slots=True, eq=False)
class _Look:
    """A cell that is judged: its number, the facets (f,) that may be reached in it, and the planes (p,) they lie in."""

    cell: int
    facets: Indices
    planes: Indices


class Enclosure:
    """A closed solid, its facets made ready to be asked which of them a point can reach."""

    def __init__(self, mesh: Mesh) -> None:
        self.mesh, self.kept = mesh, mesh.surface_error + GRAIN
        self.middle = mesh.vertices.mean(axis=0)
        corners = (mesh.vertices - self.middle)[mesh.faces]
        sides = np.roll(corners, -1, axis=1) - corners
        normals = np.cross(sides[:, 0], -sides[:, 2])
        twice, lengths = np.linalg.norm(normals, axis=1), np.linalg.norm(sides, axis=2)
        kept = twice > THINNEST * lengths.max(axis=1)
        self.corners = corners[kept]
        self.normals = normals[kept] / twice[kept, None]
        outward = np.cross(sides[kept], self.normals[:, None])
        self.outward = outward / np.linalg.norm(outward, axis=2, keepdims=True)
        self.levels = np.einsum("fi,fi->f", self.normals, self.corners[:, 0])
        self.low, self.high = self.corners.min(axis=1), self.corners.max(axis=1)
        planes = np.column_stack([self.normals, self.levels]).round(FLAT)
        _, self.first, self.plane = np.unique(planes, axis=0, return_index=True, return_inverse=True)
        self.plane = self.plane.reshape(-1)

    def holds_one(self, mechanism: Mechanism, motion: CellMotion, parts: tuple[str, str], cloud: Cloud) -> Flags:
        """In which of N cells a point of ``cloud`` stays inside the true solid at every setting.

        ``parts``: names of the one that carries the points and of the one that the solid belongs to.
        """
        body, other = (mechanism.bodies.body_of[part] for part in parts)
        still = np.zeros(len(cloud.points))
        reach = travel(motion, body, other, cloud.points, still, mechanism.bodies.centres) + self.kept
        place, own = (mechanism.world_from_rest(motion.posture, part) for part in parts)
        seen = inverse_rigid(own) @ place
        points = np.einsum("nij,kj->nki", seen[:, :3, :3], cloud.points) + seen[:, None, :3, 3] - self.middle
        held, looks = np.zeros(len(motion), dtype=bool), []
        for cell in np.flatnonzero(motion.certified & np.isfinite(reach)).tolist():
            facets = self._near(points[cell], reach[cell])
            planes = np.unique(self.plane[facets])
            if len(planes) <= MOST_PLANES:
                looks.append(_Look(cell, facets, planes))
        sides = self._sides_kept(mechanism, motion, (body, other), cloud, looks)
        for look, kept in zip(looks, sides, strict=True):
            crossed = ~kept[:, np.searchsorted(look.planes, self.plane[look.facets])]
            apart = self._apart(points[look.cell], look.facets)
            safe = ~(crossed & (apart <= reach[look.cell])).any(axis=1)
            held[look.cell] = self._any_inside(points[look.cell][safe])
        return held

    def _sides_kept(
        self, mechanism: Mechanism, motion: CellMotion, bodies: tuple[int, int], cloud: Cloud, looks: Sequence[_Look]
    ) -> list[Flags]:
        """For each look, which points (k, planes) stay on their side of which of its planes, with the margin."""
        centres, turned = mechanism.bodies.centres, motion.posture.rotations[:, bodies[1]]
        foot = motion.posture.centres[:, bodies[1]] + turned @ (self.middle - centres[bodies[1]])
        kept = [np.zeros((len(cloud.points), len(look.planes)), dtype=bool) for look in looks]
        for number in range(max((len(look.planes) for look in looks), default=0)):
            rows = [row for row, look in enumerate(looks) if len(look.planes) > number]
            cells = np.array([looks[row].cell for row in rows], dtype=np.intp)
            facets = self.first[[looks[row].planes[number] for row in rows]]
            normals = np.einsum("nij,nj->ni", turned[cells], self.normals[facets])
            along, shift = shifts_along(motion.take(cells), *bodies, cloud, normals, centres)
            level = np.einsum("ni,ni->n", normals, foot[cells]) + self.levels[facets]
            for row, clear in zip(rows, np.abs(along - level[:, None]) - shift > self.kept, strict=True):
                kept[row][:, number] = clear
        return kept

    def _near(self, points: Floats, reach: float) -> Indices:
        """The facets whose boxes come within ``reach`` of the box round ``points`` (k, 3)."""
        low, high = points.min(axis=0) - reach, points.max(axis=0) + reach
        return np.flatnonzero(((self.low <= high) & (self.high >= low)).all(axis=1))

    def _apart(self, points: Floats, facets: Indices) -> Floats:
        """Distances (k, f) of points (k, 3) from facets, or less beside a corner: off the plane and past its edges."""
        off = points @ self.normals[facets].T - self.levels[facets]
        past = np.zeros_like(off)
        for side in range(3):
            outward = self.outward[facets, side]
            past = np.maximum(past, points @ outward.T - np.einsum("fi,fi->f", outward, self.corners[facets, side]))
        return np.asarray(np.hypot(off, past))

    def _any_inside(self, points: Floats) -> bool:
        """Whether one of ``points`` (k, 3) lies inside."""
        starts = range(0, len(points), TESTED)
        return any(contains(self.mesh, points[start : start + TESTED] + self.middle).any() for start in starts)
