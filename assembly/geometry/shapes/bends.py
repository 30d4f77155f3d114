"""The centre line of a rod or tube: straight legs, and true arcs in the corners that are tangent to both legs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, floor, pi, tan

import numpy as np
from numpy.typing import ArrayLike

from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import rotation_from_vector
from assembly.geometry.shapes.checks import checked_points, checked_size, number_text, refused
from assembly.geometry.shapes.frames import crosswise

_STRAIGHT = 1e-9
"""rad; a corner that turns less is no corner."""
_SAME_PLACE = 1e-9
"""mm; two rings nearer than this are one."""


@dataclass(frozen=True, slots=True, eq=False)
class Bend:
    """One arc: from ``start`` by ``angle`` (rad) about the unit vector ``axis`` through ``centre``, ``radius`` in mm.

    ``frame`` (3, 3) has the columns along, side, up at the start; it turns with the arc (parallel transport).
    """

    start: Floats
    centre: Floats
    axis: Floats
    radius: float
    angle: float
    frame: Floats

    @property
    def inward(self) -> Floats:
        """Unit vector (2,) towards the centre, in side and up; the same all along the arc."""
        towards: Floats = self.frame[:, 1:].T @ (self.centre - self.start) / self.radius
        return towards


@dataclass(frozen=True, slots=True, eq=False)
class CentreLine:
    """Where the line starts and ends (3,) mm, its frame (3, 3) at the start, and its bends in order."""

    start: Floats
    end: Floats
    frame: Floats
    bends: tuple[Bend, ...]

    def stations(self, steps: Sequence[int]) -> tuple[Floats, Floats]:
        """Places (n, 3) and frames (n, 3, 3) of the rings, with each bend cut into its number of equal ``steps``.

        Rings stand where a leg meets a bend too, square to the line, so each lies in a plane through the bend's axis.
        """
        places, frames = [self.start], [self.frame]
        for bend, count in zip(self.bends, steps, strict=True):
            for i in range(count + 1):
                turn = rotation_from_vector(bend.axis * bend.angle * i / count)
                places.append(bend.centre + turn @ (bend.start - bend.centre))
                frames.append(turn @ bend.frame)
        places.append(self.end)
        frames.append(frames[-1])
        steps_taken = np.linalg.norm(np.diff(places, axis=0), axis=1)
        apart = np.concatenate([[True], steps_taken > _SAME_PLACE])
        return np.array(places)[apart], np.array(frames)[apart]


def centre_line(
    shape: str,
    points: Sequence[ArrayLike] | Floats,
    bend: float | Sequence[float] | None = None,
    up: ArrayLike | None = None,
) -> CentreLine:
    """The line through ``points`` (n, 3) in mm with its inner corners rounded.

    ``bend`` is the radius of the centre line in mm, one for all corners or one for each inner point. ``up`` is the
    up direction of the first leg. ShapeError where a bend is missing or does not fit its legs.
    """
    corners = checked_points(shape, "points", points, 3, 2)
    legs = np.diff(corners, axis=0)
    lengths = np.linalg.norm(legs, axis=1)
    directions = legs / lengths[:, None]
    turns = [_turn(shape, i + 1, *directions[i : i + 2]) for i in range(len(legs) - 1)]
    radii = _radii(shape, bend, turns)
    _check_room(shape, lengths, turns, radii)
    first = frame = crosswise(directions[0], up, shape)
    bends = []
    for i, (angle, radius) in enumerate(zip(turns, radii, strict=True)):
        if angle > _STRAIGHT:
            axis = np.cross(directions[i], directions[i + 1])
            axis /= np.linalg.norm(axis)
            start = corners[i + 1] - radius * tan(angle / 2) * directions[i]
            arc = Bend(start, start + radius * np.cross(axis, directions[i]), axis, radius, angle, frame)
            bends.append(arc)
            frame = rotation_from_vector(axis * angle) @ frame
    return CentreLine(corners[0], corners[-1], first, tuple(bends))


def _turn(shape: str, corner: int, before: Floats, after: Floats) -> float:
    """Angle in rad by which the line turns at a corner."""
    angle = atan2(float(np.linalg.norm(np.cross(before, after))), float(before @ after))
    if angle > pi - 1e-6:
        raise refused(shape, f"the line turns straight back at points[{corner}]", "bend it by less than 180 degrees")
    return angle


def _radii(shape: str, bend: float | Sequence[float] | None, turns: list[float]) -> list[float]:
    if bend is None:
        for i, angle in enumerate(turns):
            if angle > _STRAIGHT:
                problem = f"the corner at points[{i + 1}] has no bend radius"
                raise refused(shape, problem, "give bend, in mm to the centre line")
        return [0.0] * len(turns)
    if not turns:
        raise refused(
            shape, f"bend = {number_text(bend)} has no corner to round", "leave bend out, or give 3 or more points"
        )
    if not isinstance(bend, (Sequence, np.ndarray)):
        return [checked_size(shape, "bend", bend)] * len(turns)
    if len(bend) != len(turns):
        problem = f"bend has {len(bend)} radii for {len(turns)} inner points"
        raise refused(shape, problem, f"give {len(turns)}, or one for all")
    return [checked_size(shape, f"bend[{i}]", radius) for i, radius in enumerate(bend)]


def _check_room(shape: str, lengths: Floats, turns: list[float], radii: list[float]) -> None:
    """ShapeError where the bends at both ends of a leg need more than its length."""
    share = [0.0, *(tan(angle / 2) if angle > _STRAIGHT else 0.0 for angle in turns), 0.0]
    needs = [factor * radius for factor, radius in zip(share, [0.0, *radii, 0.0], strict=True)]
    for i, length in enumerate(lengths):
        need = needs[i] + needs[i + 1]
        if need > length + _SAME_PLACE:
            most = floor(1000 * length / (share[i] + share[i + 1])) / 1000
            raise refused(
                shape,
                f"the bends take {number_text(need)} mm of the leg from points[{i}] to points[{i + 1}], "
                f"which is {number_text(length)} mm long",
                f"give bend radii of at most {most:z.3f} mm there, or a longer leg",
            )
