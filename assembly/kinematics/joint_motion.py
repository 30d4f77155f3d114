"""The motions that joints let free, each in one number: measured at a posture, and bounded all through a cell.

Angles are in degrees and lengths in mm. A pin turns, a slide travels, each half of a universal joint's cross turns, and
a rod end's bolt leans against the eye: turning about the bolt is no lean.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import across, cross, lengths, rotation_from_vector, unit
from assembly.kinematics.approach import cloud_of, least_along
from assembly.kinematics.bodies import Bodies
from assembly.kinematics.cell_motion import CellMotion
from assembly.kinematics.pointing import pointing, standing
from assembly.kinematics.rows import Posture
from assembly.kinematics.rows.base import dot
from assembly.kinematics.scalar_quantity import ScalarQuantity
from assembly.kinematics.travel import seen
from assembly.model.machine import Joint, JointKind, Vector

WHOLE_TURN = 360.0
GRAIN = 1e-14
"""By which a sine or cosine may be wrong from rounding."""


@dataclass(frozen=True, slots=True, eq=False)
class Span:
    """Bounds ``low`` and ``high`` (N,) of a motion over N cells.

    ``up`` (N, d): the way to the cell's corner where the motion is about largest, as signs. ``low_terms`` and
    ``high_terms`` (N, k): what the bounds are made of, where that is kept.
    """

    low: Floats
    high: Floats
    up: Floats
    low_terms: Floats | None = None
    high_terms: Floats | None = None


class JointMotion(ScalarQuantity, Protocol):
    """One motion of a joint. ``turning``: it may pass half a turn, so its values are known up to whole turns only."""

    def among(self, bodies: Sequence[int]) -> JointMotion:
        """The same over these ``bodies`` only, in this order."""

    def values(self, posture: Posture) -> Floats:
        """The motion (N,) at each posture."""

    def span(self, motion: CellMotion, values: Floats) -> Span:
        """Its bounds all through the cells; ``values`` (N,) are those at their centres, whole turns distinguished."""

    def rates(self, motion: CellMotion) -> Floats:
        """How fast (N, d) the two parts move against each other per drive unit, for choosing where to cut."""


@dataclass(frozen=True, slots=True, eq=False)
class PinTurn:
    """A direction ``mark`` of ``marked`` turns about ``axis`` of ``holder``; both unit, at rest, square or not."""

    name: str
    holder: int
    axis: Floats
    marked: int
    mark: Floats
    unit: str = "deg"
    turning: bool = True

    @property
    def bodies(self) -> tuple[int, int]:
        """The holder of the axis, and the body that is marked."""
        return self.holder, self.marked

    def among(self, bodies: Sequence[int]) -> PinTurn:
        """The same over these ``bodies`` only, in this order."""
        return replace(self, holder=bodies.index(self.holder), marked=bodies.index(self.marked))

    def values(self, posture: Posture) -> Floats:
        """Angle (N,) from where ``mark`` was drawn, -180 to 180."""
        line, drawn = posture.rotations[:, self.holder] @ self.axis, posture.rotations[:, self.holder] @ self.mark
        now = posture.rotations[:, self.marked] @ self.mark
        flat = dot(drawn, now) - dot(line, drawn) * dot(line, now)
        return np.asarray(np.rad2deg(np.arctan2(dot(cross(line, drawn), now), flat)))

    def span(self, motion: CellMotion, values: Floats) -> Span:
        """From the sine and cosine, unnormed, of the angle away from the centre; unbounded past a quarter turn."""
        line = motion.posture.rotations[:, self.holder] @ self.axis
        now = motion.posture.rotations[:, self.marked] @ self.mark
        flat = now - dot(line, now)[:, None] * line
        flat = flat / np.maximum(np.linalg.norm(flat, axis=1), 1e-12)[:, None]
        frame = np.stack([cross(line, flat), flat], axis=1)
        view = pointing(motion, self.marked, self.holder, self.mark, frame)
        (low, high), (least, _) = view.interval(0), view.interval(1)
        known = motion.certified & (least > 0)
        with np.errstate(invalid="ignore"):
            away = [np.where(known, np.rad2deg(np.arctan2(end, least)), way) for end, way in _ends(low, high)]
        return Span(values + away[0], values + away[1], np.sign(view.first[:, 0]))

    def rates(self, motion: CellMotion) -> Floats:
        """Turning of both parts in rad per drive unit."""
        return _turning(motion, self.holder, self.marked)


@dataclass(frozen=True, slots=True, eq=False)
class Lean:
    """A rod end: ``bolt`` of body ``stud`` against the eye's line ``eye`` of body ``housing``; unit, at rest.

    Each is (3,), or (N, 3) where it differs from cell to cell.
    """

    housing: int
    eye: Floats
    stud: int
    bolt: Floats
    name: str = "misalignment"
    unit: str = "deg"
    turning: bool = False

    @property
    def bodies(self) -> tuple[int, int]:
        """The bodies of the eye and of the bolt."""
        return self.housing, self.stud

    def among(self, bodies: Sequence[int]) -> Lean:
        """The same over these ``bodies`` only, in this order."""
        return replace(self, housing=bodies.index(self.housing), stud=bodies.index(self.stud))

    def values(self, posture: Posture) -> Floats:
        """Angle (N,) between bolt and eye, 0 to 180."""
        eye, bolt = standing(posture, self.housing, self.eye), standing(posture, self.stud, self.bolt)
        return np.asarray(np.rad2deg(np.arctan2(lengths(cross(eye, bolt)), dot(eye, bolt))))

    def span(self, motion: CellMotion, values: Floats) -> Span:  # noqa: ARG002  # part of the contract
        """From bounds on the bolt's parts across the eye and along it, which are the angle's sine and cosine."""
        eye, bolt = standing(motion.posture, self.housing, self.eye), standing(motion.posture, self.stud, self.bolt)
        aside = bolt - dot(eye, bolt)[:, None] * eye
        size = np.linalg.norm(aside, axis=1)[:, None]
        aside = np.where(size > 1e-6, aside / np.maximum(size, 1e-6), _square_to(eye))
        view = pointing(motion, self.stud, self.housing, self.bolt, np.stack([aside, cross(eye, aside), eye], 1))
        most_sine, up = view.longest(2)
        least_sine, (least_cosine, most_cosine) = view.interval(0)[0], view.interval(2)
        low, high = _angle_bounds((least_sine, most_sine), (least_cosine, most_cosine))
        known = motion.certified
        return Span(np.where(known, low, 0.0), np.where(known, high, 180.0), up)

    def rates(self, motion: CellMotion) -> Floats:
        """Turning of both parts in rad per drive unit."""
        return _turning(motion, self.housing, self.stud)

    def rolled(self, rod: int, axis: Floats, degrees: float | Floats) -> Lean:
        """The same end with body ``rod`` rolled by ``degrees`` about its unit ``axis``, given at rest.

        ``degrees`` is one roll for all postures or (N,) one for each.
        """
        turn = rotation_from_vector(np.deg2rad(np.asarray(degrees, dtype=np.float64))[..., None] * axis)
        eye = turn @ self.eye if rod == self.housing else self.eye
        bolt = turn @ self.bolt if rod == self.stud else self.bolt
        return Lean(self.housing, eye, self.stud, bolt)


@dataclass(frozen=True, slots=True, eq=False)
class Travel:
    """A point ``to`` of body ``moving`` against a point ``start`` of body ``holder``, along ``line`` of that body."""

    holder: int
    start: Floats
    line: Floats
    moving: int
    to: Floats
    centres: Floats
    name: str = "travel"
    unit: str = "mm"
    turning: bool = False

    @property
    def bodies(self) -> tuple[int, int]:
        """The body of the line, and the one that moves along it."""
        return self.holder, self.moving

    def among(self, bodies: Sequence[int]) -> Travel:
        """The same over these ``bodies`` only, in this order."""
        holder, moving = bodies.index(self.holder), bodies.index(self.moving)
        return replace(self, holder=holder, moving=moving, centres=self.centres[list(bodies)])

    def values(self, posture: Posture) -> Floats:
        """Distance (N,) along the line, in mm."""
        return dot(self._line(posture), self._place(posture, self.moving, self.to) - self._start(posture))

    def span(self, motion: CellMotion, values: Floats) -> Span:  # noqa: ARG002  # part of the contract
        """The point's least coordinates along the line and against it."""
        normals, cloud = self._line(motion.posture), cloud_of(self.to[None])
        origin = dot(normals, self._start(motion.posture))
        low, high = (
            way * least_along(motion, self.moving, self.holder, cloud, way * normals, self.centres) - origin
            for way in (1.0, -1.0)
        )
        view = seen(motion, self.moving, self.holder, self.to, 0.0, self.centres)
        return Span(low, high, np.sign(np.einsum("ndi,ni->nd", view.rate, normals)))

    def rates(self, motion: CellMotion) -> Floats:
        """Mm per drive unit of the point seen from the other part."""
        view = seen(motion, self.moving, self.holder, self.to, 0.0, self.centres)
        return np.asarray(np.linalg.norm(view.rate, axis=-1))

    def _line(self, posture: Posture) -> Floats:
        return np.asarray(posture.rotations[:, self.holder] @ self.line)

    def _start(self, posture: Posture) -> Floats:
        return self._place(posture, self.holder, self.start)

    def _place(self, posture: Posture, body: int, point: Floats) -> Floats:
        return np.asarray(posture.centres[:, body] + posture.rotations[:, body] @ (point - self.centres[body]))


def motions_of(joint: Joint, bodies: Bodies) -> Iterator[JointMotion]:
    """What ``joint`` lets free and can be reported in one number each."""
    first, second = bodies.body_of[joint.first], bodies.body_of[joint.second]
    if joint.kind in (JointKind.PIN, JointKind.CYLINDRICAL):
        axis = _line(joint.along)
        yield PinTurn("turn", first, axis, second, across(axis)[0])
    if joint.kind in (JointKind.SLIDE, JointKind.CYLINDRICAL):
        ends = np.asarray(joint.at_first), np.asarray(joint.at_second)
        yield Travel(first, ends[0], _line(joint.along), second, ends[1], bodies.centres)
    if joint.kind is JointKind.UNIVERSAL:
        lines = _line(joint.along), _line(joint.along_second)
        yield PinTurn(f"turn of the cross in {joint.first}", first, lines[0], second, lines[1])
        yield PinTurn(f"turn of the cross in {joint.second}", second, lines[1], first, lines[0])
    if joint.kind is JointKind.BALL and joint.bolt is not None:
        eye, bolt = _line(joint.eye or joint.bolt), _line(joint.bolt)
        yield Lean(first, eye if eye @ bolt >= 0 else -eye, second, bolt)


def stated_limits(joint: Joint, motion: JointMotion) -> tuple[float | None, float | None]:
    """Lowest and highest that ``motion`` of ``joint`` may reach, in its unit; None where nothing limits it."""
    if isinstance(motion, Lean):
        return None, joint.misalignment
    if isinstance(motion, Travel):
        return joint.travel_limit or (None, None)
    return (None if joint.kind is JointKind.UNIVERSAL else joint.turn_limit) or (None, None)


def nearest_turn(values: Floats, known: Floats) -> Floats:
    """``values`` (N,) in degrees, whole turns added so that each comes within half a turn of ``known`` (N,)."""
    return np.asarray(values + WHOLE_TURN * np.round((known - values) / WHOLE_TURN))


def _ends(low: Floats, high: Floats) -> tuple[tuple[Floats, float], tuple[Floats, float]]:
    return (low, -np.inf), (high, np.inf)


def _angle_bounds(sine: tuple[Floats, Floats], cosine: tuple[Floats, Floats]) -> tuple[Floats, Floats]:
    """Bounds in degrees on an angle of 0 to 180 from bounds on its sine and its cosine: the better of the two.

    Where sine or cosine is flat a rounding error of it makes a large one of the angle, so both are widened.
    """
    least, most = (np.arcsin(np.clip(end + wide, 0.0, 1.0)) for end, wide in zip(sine, (-GRAIN, GRAIN), strict=True))
    high, low = (np.arccos(np.clip(end + wide, -1.0, 1.0)) for end, wide in zip(cosine, (-GRAIN, GRAIN), strict=True))
    acute, obtuse = cosine[0] >= 0, cosine[1] <= 0
    low = np.maximum(low, np.where(acute, least, np.where(obtuse, np.pi - most, 0.0)))
    high = np.minimum(high, np.where(acute, most, np.where(obtuse, np.pi - least, np.pi)))
    return np.rad2deg(low), np.rad2deg(high)


def _square_to(lines: Floats) -> Floats:
    """A unit vector square to each of ``lines`` (N, 3)."""
    helper = np.eye(3)[np.argmin(np.abs(lines), axis=1)]
    found = cross(helper, lines)
    return np.asarray(found / np.linalg.norm(found, axis=1)[:, None])


def _turning(motion: CellMotion, one: int, other: int) -> Floats:
    return np.asarray(sum(np.linalg.norm(motion.turn_rate[:, body], axis=-1) for body in (one, other)))


def _line(direction: Vector | None) -> Floats:
    return unit(direction)  # type: ignore[arg-type]  # kinds that need a direction always have it (reader)
