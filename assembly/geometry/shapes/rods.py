"""Rods and tubes of round, square or rectangular section, straight or along points with bent corners.

The centre line has straight legs, and in its corners true arcs that are tangent to both legs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, floor, pi, tan

import numpy as np
from numpy.typing import ArrayLike

from assembly.geometry.mesh import Floats, Indices, Mesh
from assembly.geometry.rotations import rotation_from_vector
from assembly.geometry.shapes.checks import (
    LEAST_SIZE,
    checked_facet_error,
    checked_points,
    checked_size,
    checked_sizes,
    number_text,
    refused,
)
from assembly.geometry.shapes.closed_surfaces import cap, lofted
from assembly.geometry.shapes.facets import affordable, facets_round, sag, steps_along
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


@dataclass(frozen=True, slots=True)
class _Section:
    """Half the width and half the height in mm; both are the radius where it is ``round``."""

    half_width: float
    half_height: float
    round: bool

    def less(self, wall: float) -> _Section:
        return _Section(self.half_width - wall, self.half_height - wall, self.round)

    def outline(self, count: int) -> Floats:
        """Corners (n, 2) in side and up, counter-clockwise about the line."""
        if self.round:
            angles = 2 * pi * np.arange(count) / count
            return self.half_width * np.column_stack([np.cos(angles), np.sin(angles)])
        return np.array([(1, -1), (1, 1), (-1, 1), (-1, -1)]) * (self.half_width, self.half_height)

    def reach(self, bend: Bend) -> float:
        """How far in mm the section reaches from the line towards the bend's axis, and as far away from it."""
        if self.round:
            return self.half_width
        return float(np.abs(bend.inward) @ (self.half_width, self.half_height))


def rod(
    points: Sequence[ArrayLike] | Floats,
    *,
    diameter: float | None = None,
    square: float | None = None,
    rectangle: Sequence[float] | None = None,
    up: ArrayLike | None = None,
    bend: float | Sequence[float] | None = None,
    facet_error: float = 0.02,
) -> Mesh:
    """A solid rod along ``points`` (n, 3) in mm.

    Its section is round (``diameter``), ``square`` (its side) or a ``rectangle`` (width, height), in mm. ``up`` is
    where the height points on the first leg: z without it, or x where that leg runs along z; the section is carried
    on through the bends without twist. ``bend`` is the radius of the centre line in mm, for all inner points or one
    for each, and is needed at each corner. The ends are square to the line. ShapeError on anything else.

    Surface error. In a bend each edge of the ringed section is turned about the bend's axis in plane facets, so with
    ``surfaces.revolved``'s argument it is the section's own sag plus ``(bend radius + reach)(1 - cos(step/2))``, reach
    being how far the section stands away from the line on the bend's outside; on the legs the section's sag alone.
    """
    section = _section("rod", diameter, square, rectangle)
    return _swept("rod", [section], centre_line("rod", points, bend, up), checked_facet_error("rod", facet_error))


def tube(
    points: Sequence[ArrayLike] | Floats,
    *,
    wall: float,
    diameter: float | None = None,
    square: float | None = None,
    rectangle: Sequence[float] | None = None,
    up: ArrayLike | None = None,
    bend: float | Sequence[float] | None = None,
    facet_error: float = 0.02,
) -> Mesh:
    """A hollow rod, open at its ends: as ``rod``, with the outside sizes and the ``wall`` in mm.

    The inside has the outside's facets, so the wall is nowhere broken, and a smaller surface error.
    """
    section = _section("tube", diameter, square, rectangle)
    thickness = checked_size("tube", "wall", wall)
    room = min(section.half_width, section.half_height)
    if thickness > room - LEAST_SIZE:
        problem = f"wall = {number_text(thickness)} leaves no hollow"
        raise refused("tube", problem, f"give less than {number_text(room)} mm, or use a rod")
    sections = [section, section.less(thickness)]
    return _swept("tube", sections, centre_line("tube", points, bend, up), checked_facet_error("tube", facet_error))


def _section(shape: str, diameter: float | None, square: float | None, rectangle: Sequence[float] | None) -> _Section:
    sizes = {"diameter": diameter, "square": square, "rectangle": rectangle}
    given = [name for name, value in sizes.items() if value is not None]
    if len(given) != 1:
        problem = f"the section is given by {' and '.join(given) or 'nothing'}"
        raise refused(shape, problem, "give exactly one of diameter, square and rectangle")
    if rectangle is not None:
        width, height = checked_sizes(shape, "rectangle", rectangle, 2)
        return _Section(width / 2, height / 2, round=False)
    side = checked_size(shape, given[0], sizes[given[0]])
    return _Section(side / 2, side / 2, round=diameter is not None)


def _swept(shape: str, sections: list[_Section], line: CentreLine, facet_error: float) -> Mesh:
    """``sections``: the outside and, for a tube, the inside."""
    outside = sections[0]
    for bend in line.bends:
        if bend.radius < outside.reach(bend) + LEAST_SIZE:
            problem = f"bend radius {number_text(bend.radius)} mm is too small for the section"
            raise refused(shape, problem, f"give more than {number_text(outside.reach(bend))} mm")

    def triangles(error: float) -> int:
        count, steps = _facets(outside, line, error)
        return 2 * len(sections) * count * (sum(steps) + len(steps) + 1)

    count, steps = _facets(outside, line, affordable(facet_error, triangles))
    places, frames = line.stations(steps)
    loops = [
        places[:, None] + np.einsum("sij,pj->spi", frames[:, :, 1:], section.outline(count)) for section in sections
    ]
    return Mesh(*_skin(loops), _surface_error(outside, line, count, steps))


def _skin(loops: list[Floats]) -> tuple[Floats, Indices]:
    """Vertices and triangles of the outside rings alone with caps, or of outside and inside joined at both ends."""
    outer = loops[0]
    rings, points = outer.shape[:2]
    if len(loops) == 2:
        skin = np.concatenate([outer, loops[1][::-1]])
        return skin.reshape(-1, 3), lofted(2 * rings, points, closed=True)
    first = np.arange(points)
    last = first + (rings - 1) * points
    faces = np.concatenate([lofted(rings, points, closed=False), cap(first[::-1]), cap(last)])
    return outer.reshape(-1, 3), faces


def _facets(section: _Section, line: CentreLine, error: float) -> tuple[int, list[int]]:
    """Facets round the section and steps along each bend; a bent round rod spends half of the error on each."""
    share = error / 2 if section.round and line.bends else error
    count = facets_round(section.half_width, share) if section.round else 4
    return count, [steps_along(bend.radius + section.reach(bend), bend.angle, share) for bend in line.bends]


def _surface_error(section: _Section, line: CentreLine, count: int, steps: list[int]) -> float:
    own = sag(section.half_width, pi / count) if section.round else 0.0
    turned = [
        sag(bend.radius + section.reach(bend), bend.angle / (2 * number))
        for bend, number in zip(line.bends, steps, strict=True)
    ]
    return own + max(turned, default=0.0)
