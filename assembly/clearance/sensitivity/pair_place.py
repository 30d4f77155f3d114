"""The distance of two shapes at one setting: how it changes as bodies move, and as the shapes themselves change.

The distance is n · (B - A) with A and B the nearest points and n the unit vector from A to B. Where the nearest points
slide along the surfaces it does not change to first order (envelope theorem), so its derivative over a motion is that
of the two material points along n, and over a change of shape the surfaces' speed along n (``surface_speed``).

Two shapes that stand in each other are looked at with the second moved out along the shortest way, to ``FREE`` mm: that
way out being shortest, the depth changes as that gap does, with the other sign.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assembly.clearance.narrow_phase.checked_pairs import CheckedPair, Exclusion, Solid, without_exclusion
from assembly.clearance.narrow_phase.distance import CollisionModel, Nearest, nearest
from assembly.clearance.narrow_phase.witness import vector
from assembly.clearance.sensitivity.change import Stepped
from assembly.clearance.sensitivity.flush import flush_corners
from assembly.clearance.sensitivity.surface_speed import Ball, Footing, facets_at, footing
from assembly.geometry.mesh import Floats, Mesh
from assembly.kinematics.bodies import GROUND
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rows import Posture
from assembly.model.machine import Joint, Machine, Part, Shape

FREE = 0.1
"""mm of gap at which shapes that stand in each other are looked at once they are moved apart."""


@dataclass(frozen=True, slots=True, eq=False)
class Standing:
    """One shape of a part as a pair sees it: ``piece`` without what is left out as seat, at ``world_from_part``.

    The second of two that stand in each other stands where it was moved to.
    """

    part: str
    body: int
    exclusion: Exclusion
    shape: Shape
    piece: CollisionModel
    world_from_part: Floats

    def at(self, point: Floats, outward: Floats, face: int) -> PlacedShape:
        """With its nearest ``point`` and the way to the other there, both in the world, and the facet it lies on."""
        drawn, turn = self._drawn(point), self.world_from_part[:3, :3].T
        foot = footing(self.piece.solid.meshes[0], face, drawn, turn @ outward, self.shape.mesh)
        own = self.part, self.body, self.exclusion, self.shape, self.piece, self.world_from_part
        return PlacedShape(*own, point, foot)

    def face_at(self, point: Floats, known: int) -> int:
        """The number of a facet that holds a ``point`` of the world; ``known`` where rounding leaves none."""
        return next(iter(facets_at(self.piece.solid.meshes[0], self._drawn(point))), known)

    def _drawn(self, point: Floats) -> Floats:
        return np.asarray(self.world_from_part[:3, :3].T @ (point - self.world_from_part[:3, 3]))


@dataclass(frozen=True, slots=True, eq=False)
class PlacedShape(Standing):
    """The same with its nearest ``point`` (3,) in the world, and the ``footing``: what its surface is made of there."""

    point: Floats
    footing: Footing


@dataclass(frozen=True, slots=True, eq=False)
class PairPlace:
    """The nearest shapes ``a`` and ``b`` of a pair at ``settings`` (d,), ``gap`` mm apart along ``normal`` (3,).

    ``apart`` (3,) mm is by how much b was moved to be free of a; zero where the two do not meet. ``seats`` names the
    joints round which a ball was left out of both.
    """

    pair: CheckedPair
    settings: Floats
    a: PlacedShape
    b: PlacedShape
    gap: float
    normal: Floats
    apart: Floats
    seats: tuple[str, ...] = ()

    def gradient(self, mechanism: Mechanism, posture: Posture) -> Floats:
        """Derivatives (n,) of the distance: closed form, from the normal and the two points' levers."""
        scale, slopes = mechanism.equations.scale, np.zeros((len(mechanism.bodies), 6))
        for side, sign, point in ((self.a, -1.0, self.a.point), (self.b, 1.0, self.b.point - self.apart)):
            lever = point - posture.centres[0, side.body]
            slopes[side.body, :3] += sign * self.normal
            slopes[side.body, 3:] += sign * np.cross(lever, self.normal) / scale
        slopes[GROUND] = 0.0
        return np.asarray(slopes[1:].reshape(-1))

    def at_posture(self, stepped: Stepped, posture: Posture) -> float:  # noqa: ARG002  # as every place is asked
        """What the shapes' own change and that of the required clearance do to the room that is left."""
        kept = 0.0
        if stepped.rules_differ:
            rules = stepped.perturbations.base.clearance, stepped.reading.clearance
            old, new = (each.for_pair(self.pair.a, self.pair.b) for each in rules)
            kept = old - new
        grown = [self._grown(side, stepped) for side in (self.a, self.b)]
        if any(each is None for each in grown):
            return kept + self._measured(stepped)
        return kept - sum(each or 0.0 for each in grown)

    def _grown(self, side: PlacedShape, stepped: Stepped) -> float | None:
        """By how much the surface of one shape comes out towards the other; None where its facets do not tell."""
        made, balls = stepped.mesh(side.part, side.shape), self._balls(side, stepped)
        if made is None and not balls:
            return 0.0
        drawn = side.shape.mesh
        if made is not None and not _alike(made, drawn):
            return None
        speeds = np.zeros_like(drawn.vertices) if made is None else made.vertices - drawn.vertices
        return side.footing.speed(speeds, balls)

    def _balls(self, side: PlacedShape, stepped: Stepped) -> list[Ball]:
        """The balls that are left out of one side, and how a step changes them; none where it changes none."""
        before, after = stepped.before.machine.joints, stepped.mechanism.machine.joints
        if after is before or all(after[name] is before[name] for name in self.seats):
            return []
        made = []
        for name in self.seats:
            (old, radius), (new, grown) = (seat_ball(joints[name], side.part) for joints in (before, after))
            made.append(Ball(old, radius, new - old, grown - radius))
        return made

    def _measured(self, stepped: Stepped) -> float:
        """The change of the distance between shapes that are made again, trimmed again and asked again."""
        a, b = self._model(self.a, stepped), self._model(self.b, stepped)
        return nearest(a, b, self.a.world_from_part, self.b.world_from_part).distance - self.gap

    def _model(self, side: PlacedShape, stepped: Stepped) -> CollisionModel:
        made = stepped.mesh(side.part, side.shape)
        shape = side.shape if made is None else _with_mesh(side.shape, made)
        balls = (seat_ball(stepped.mechanism.machine.joints[name], side.part) for name in self.seats)
        ends = tuple((vector(at), radius) for at, radius in balls)
        exclusion = Exclusion(side.part, side.exclusion.joints, ends)
        return CollisionModel(without_exclusion(Part(side.part, (shape,)), exclusion))


def seats_between(machine: Machine, pair: CheckedPair) -> tuple[str, ...]:
    """The joints round which a ball of two parts is left out, in the order of their exclusions."""
    names = {pair.a, pair.b}
    joints = machine.joints.items()
    return tuple(name for name, joint in joints if {joint.first, joint.second} == names and joint.seat > 0)


def seat_ball(joint: Joint, part: str) -> tuple[Floats, float]:
    """Middle (3,) mm and radius of the ball that is left out of ``part`` round one of its joints."""
    return np.array(joint.at_first if joint.first == part else joint.at_second), joint.seat


def flush_places(
    pair: CheckedPair,
    settings: Floats,
    sides: tuple[Standing, Standing],
    found: Nearest,
    apart: Floats,
    seats: tuple[str, ...],
) -> list[PairPlace]:
    """The place of two shapes whose nearest points were ``found``, or one for each corner of where they lie flush.

    None where they touch and no direction is known. The second side stands ``apart`` (3,) mm from where it is.
    """
    away = found.point_b - found.point_a
    length = float(np.linalg.norm(away))
    if found.distance <= 0 or length <= 0:
        return []
    (a, b), normal = sides, away / length
    meshes = [side.piece.solid.mesh.moved(side.world_from_part) for side in sides]
    corners = flush_corners(meshes[0], meshes[1], (found.point_a, found.point_b), normal)
    told = [(found.point_a, found.point_b, found.face_a, found.face_b)]
    if len(corners) > 1:
        ends = [(corner, corner + found.distance * normal) for corner in corners]
        told = [(one, other, a.face_at(one, found.face_a), b.face_at(other, found.face_b)) for one, other in ends]
    return [
        PairPlace(
            pair,
            settings,
            a.at(one, normal, face_a),
            b.at(other, -normal, face_b),
            found.distance,
            normal,
            apart,
            seats,
        )
        for one, other, face_a, face_b in told
    ]


def _alike(made: Mesh, drawn: Mesh) -> bool:
    """Whether two solids have the same facets, so that corner goes with corner."""
    return made.vertices.shape == drawn.vertices.shape and np.array_equal(made.faces, drawn.faces)


def _with_mesh(shape: Shape, mesh: Mesh) -> Shape:
    return Shape(shape.name, mesh, shape.seats, entry=shape.entry)


def shapes_of(machine: Machine, part: str, solid: Solid) -> list[Shape]:
    """The drawn shapes that the pieces of ``solid`` are left of, in their order."""
    drawn = iter(machine.parts[part].shapes)
    return [next(shape for shape in drawn if shape.name == name) for name in solid.shapes]


def nearest_shapes(
    a: Sequence[CollisionModel], b: Sequence[CollisionModel], places: tuple[Floats, Floats], below: float
) -> list[tuple[int, int, Nearest]]:
    """Numbers of the pieces that are nearer than ``below`` mm, with their nearest points, the nearest first."""
    first, second = ([_box(model, place) for model in models] for models, place in zip((a, b), places, strict=True))
    made = []
    for i, own in enumerate(first):
        for j, other in enumerate(second):
            apart = np.maximum(own[0] - other[1], other[0] - own[1]).max()
            if apart <= below:
                found = nearest(a[i], b[j], *places)
                if found.distance <= below:
                    made.append((i, j, found))
    return sorted(made, key=lambda each: each[2].distance)


def _box(model: CollisionModel, place: Floats) -> Floats:
    corners = model.corners @ place[:3, :3].T + place[:3, 3]
    return np.array([corners.min(axis=0), corners.max(axis=0)])
