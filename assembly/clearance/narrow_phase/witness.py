"""What shows a pair's distance at one posture: the nearest points, and the shape of each part that they lie on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from assembly.clearance.narrow_phase.checked_pairs import CheckedPair, Exclusion, Solid
from assembly.clearance.narrow_phase.distance import (
    CollisionModel,
    Nearest,
    about_middles,
    contained,
    contained_at,
    nearest,
    nearest_about,
)
from assembly.clearance.narrow_phase.overlap import overlap_at
from assembly.clearance.narrow_phase.pair_result import Overlap, Setting
from assembly.geometry.mesh import Flags, Floats
from assembly.geometry.rotations import inverse_rigid
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rows import Posture
from assembly.model.machine import Vector


@dataclass(frozen=True, slots=True)
class Witness:
    """Distance in mm of two parts, their nearest points in the world, and the shapes these lie on.

    Where the surfaces meet the distance is 0 and both points are one place at which they do.
    """

    distance: float
    point_a: Vector
    point_b: Vector
    shape_a: str
    shape_b: str


class Witnesses:
    """Measures pairs of one machine at single postures; solids are made ready the first time they are asked for.

    ``ready``: those that are so already.
    """

    def __init__(
        self,
        mechanism: Mechanism,
        solids: Mapping[Exclusion, Solid],
        ready: Mapping[Exclusion, CollisionModel] = MappingProxyType({}),
    ) -> None:
        self._mechanism, self._solids = mechanism, solids
        self._probes = dict(ready)

    def nearest(self, pair: CheckedPair, posture: Posture) -> Witness:
        """How near ``pair`` is at the one ``posture``, and where."""
        places = self._places(pair, posture)
        found = nearest(*self._pair(pair), *places)
        a, b = self._solids[pair.trim_a], self._solids[pair.trim_b]
        point_a, point_b = vector(found.point_a), vector(found.point_b)
        if found.distance <= 0:
            point_a = point_b = vector(_meeting_place(a, found, places[0]))
        return Witness(found.distance, point_a, point_b, a.shape_of(found.face_a), b.shape_of(found.face_b))

    def contained(self, pair: CheckedPair, posture: Posture) -> bool:
        """Whether one of the two lies inside the other, given that their surfaces do not meet."""
        return contained(*self._pair(pair), *self._places(pair, posture))

    def contained_each(self, pair: CheckedPair, posture: Posture, apart: Floats) -> Flags:
        """The same (N,) at each of N postures, at which the surfaces are ``apart`` (N,) mm; False where they meet."""
        world_from_a, world_from_b = (self._mechanism.world_from_rest(posture, part) for part in (pair.a, pair.b))
        inside, rows = np.zeros(len(apart), dtype=bool), np.flatnonzero(apart > 0)
        a_from_b = (inverse_rigid(world_from_a) @ world_from_b)[rows]
        inside[rows] = contained_at(*self._pair(pair), a_from_b, apart[rows])
        return inside

    def distances(self, pair: CheckedPair, posture: Posture) -> Floats:
        """Distances (N,) mm of ``pair`` at each of N postures, 0 where one of the two lies inside the other."""
        a, b = self._pair(pair)
        world_from_a, world_from_b = (self._mechanism.world_from_rest(posture, part) for part in (pair.a, pair.b))
        a_from_b = inverse_rigid(world_from_a) @ world_from_b
        found = np.array([nearest_about(a, b, place).distance for place in about_middles(a, b, a_from_b)])
        apart = np.flatnonzero(found > 0)
        found[apart[contained_at(a, b, a_from_b[apart], found[apart])]] = 0.0
        return found

    def overlap(self, pair: CheckedPair, posture: Posture, at: Setting) -> Overlap:
        """What both parts claim at the one ``posture``, which belongs to the setting ``at``."""
        return overlap_at(*self._pair(pair), *self._places(pair, posture), at)

    def _pair(self, pair: CheckedPair) -> tuple[CollisionModel, CollisionModel]:
        return self._probe(pair.trim_a), self._probe(pair.trim_b)

    def _probe(self, exclusion: Exclusion) -> CollisionModel:
        if exclusion not in self._probes:
            self._probes[exclusion] = CollisionModel(self._solids[exclusion])
        return self._probes[exclusion]

    def _places(self, pair: CheckedPair, posture: Posture) -> tuple[Floats, Floats]:
        place_a, place_b = (self._mechanism.world_from_rest(posture, part)[0] for part in (pair.a, pair.b))
        return place_a, place_b


def shown_by(witness: Witness, overlap: Overlap) -> Witness:
    """``witness`` with the shapes that stand deepest in each other, and a place inside both.

    Of surfaces that cross, and of a shape that lies wholly inside another, the nearest points show neither.
    """
    if not overlap.shape_a:
        return witness
    x, y, z = overlap.where
    return Witness(0.0, (x, y, z), (x, y, z), overlap.shape_a, overlap.shape_b)


def _meeting_place(solid: Solid, found: Nearest, world_from_rest: Floats) -> Floats:
    """Middle of the triangle that the query ended on: its own points mean nothing where surfaces cross."""
    corners = solid.mesh.vertices[solid.mesh.faces[found.face_a]]
    return np.asarray(corners.mean(axis=0) @ world_from_rest[:3, :3].T + world_from_rest[:3, 3])


def vector(point: Floats) -> Vector:
    """Three numbers as plain ones."""
    x, y, z = point.tolist()
    return x, y, z
