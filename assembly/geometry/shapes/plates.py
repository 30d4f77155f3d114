"""Flat solids of one thickness: plates with holes and slots, and hexagons."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, pi, radians, sqrt
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from assembly.geometry.mesh import Floats, Indices, Mesh
from assembly.geometry.shapes.checks import (
    LEAST_SIZE,
    checked_direction,
    checked_facet_error,
    checked_point,
    checked_points,
    checked_size,
    number_text,
    refused,
)
from assembly.geometry.shapes.facets import facets_round, sag
from assembly.geometry.shapes.frames import crosswise
from assembly.geometry.shapes.outlines import Cutout, check_cutouts, checked_outline, covered

PlateSide = Literal["middle", "plus", "minus"]

_REACH = {"middle": (-0.5, 0.5), "plus": (0.0, 1.0), "minus": (-1.0, 0.0)}
_FLATNESS = 0.01
"""mm; how far a drawn corner may stand off the plane of a plate before it is a mistake."""
_ROUNDING = 1e-9
"""mm; corners nearer to the plane than this are on it."""


@dataclass(frozen=True, slots=True)
class Hole:
    """A round hole through a plate. ``at`` in mm is (u, v) or a point (x, y, z), which counts along the normal."""

    at: ArrayLike
    diameter: float


@dataclass(frozen=True, slots=True)
class Slot:
    """A slot with round ends through a plate; ``start`` and ``end`` in mm are the middles of the ends, as in Hole."""

    start: ArrayLike
    end: ArrayLike
    width: float


@dataclass(frozen=True, slots=True, eq=False)
class _Plane:
    """Where u and v are drawn: ``origin`` (3,) mm, and ``axes`` (3, 3) with the columns u, v, normal."""

    origin: Floats
    axes: Floats

    def flat(self, point: Floats) -> Floats:
        """(2,) or (3,) to (u, v)."""
        return point if len(point) == 2 else (point - self.origin) @ self.axes[:, :2]

    def solid(self, points: Floats, height: float) -> Floats:
        """(n, 2) to (n, 3) in the machine, ``height`` mm above the plane."""
        lifted = np.column_stack([points, np.full(len(points), height)])
        return self.origin + lifted @ self.axes.T


def plate(
    outline: Sequence[ArrayLike] | Floats,
    thickness: float,
    *,
    at: ArrayLike,
    normal: ArrayLike,
    along: ArrayLike,
    side: PlateSide = "middle",
    holes: Sequence[Hole] = (),
    slots: Sequence[Slot] = (),
    facet_error: float = 0.02,
) -> Mesh:
    """A plate with the ``outline`` (n, 2) of (u, v) in mm, drawn in the plane square to ``normal`` through ``at``.

    u points ``along``, laid into that plane; v stands square to u and normal, right-handed. ``side`` says where the
    ``thickness`` mm lie: half on each side of the drawn plane, or all on the plus or the minus side of the normal.
    Holes and slots must stay inside the outline and clear of each other. Surface error: the largest sag of a hole's
    or slot's round edge, else 0; all other faces are flat.
    """
    upright = checked_direction("plate", "normal", normal)
    run = checked_direction("plate", "along", along)
    if abs(run @ upright) > cos(radians(1)):
        raise refused("plate", f"along = {number_text(along)} runs along the normal", "give a direction in the plate")
    u = run - (run @ upright) * upright
    u /= np.linalg.norm(u)
    plane = _Plane(checked_point("plate", "at", at), np.column_stack([u, np.cross(upright, u), upright]))
    corners = checked_outline("plate", "outline", outline)
    return _cut_plate(plane, corners, thickness, side, _cutouts(plane, holes, slots, (2, 3)), facet_error)


def plate_through(
    points: Sequence[ArrayLike] | Floats,
    thickness: float,
    *,
    side: PlateSide = "middle",
    holes: Sequence[Hole] = (),
    slots: Sequence[Slot] = (),
    facet_error: float = 0.02,
) -> Mesh:
    """A plate with its corners at ``points`` (n, 3) in mm, which lie in one plane to within 0.01 mm.

    The normal is on the side from which the points run counter-clockwise. Holes and slots are placed by points
    (x, y, z). Otherwise as ``plate``; what the points stand off their plane counts into the surface error.
    """
    corners = checked_points("plate", "points", points, 3, 3)
    middle = corners.mean(axis=0)
    spokes = corners - middle
    areas = np.cross(spokes, np.roll(spokes, -1, axis=0)).sum(axis=0)
    if np.linalg.norm(areas) < LEAST_SIZE * np.abs(spokes).max():
        raise refused("plate", "points enclose no area", "give corners in order round a face")
    normal = areas / np.linalg.norm(areas)
    off = np.abs(spokes @ normal)
    worst = int(off.argmax())
    if off[worst] > _FLATNESS:
        corner, far = number_text(corners[worst]), number_text(off[worst])
        problem = f"points[{worst}] = {corner} stands {far} mm off the plane of the points"
        raise refused("plate", problem, f"keep all within {_FLATNESS:g} mm of one plane")
    u = corners[1] - corners[0]
    u = u - (u @ normal) * normal
    u /= np.linalg.norm(u)
    plane = _Plane(middle, np.column_stack([u, np.cross(normal, u), normal]))
    outline = checked_outline("plate", "points", spokes @ plane.axes[:, :2])
    cutouts = _cutouts(plane, holes, slots, (3,))
    stray = float(off[worst]) if off[worst] > _ROUNDING else 0.0
    return _cut_plate(plane, outline, thickness, side, cutouts, facet_error, stray)


def hexagon(
    points: Sequence[ArrayLike] | Floats,
    across_flats: float,
    *,
    bore: float | None = None,
    up: ArrayLike | None = None,
    facet_error: float = 0.02,
) -> Mesh:
    """A hexagon bar or nut between two ``points`` (2, 3), ``across_flats`` mm wide, with sharp corners.

    One flat faces ``up``: z without it, or x where the line runs along z. ``bore`` mm is a round hole through it.
    Surface error: the sag of the bore, else 0.
    """
    ends = checked_points("hexagon", "points", points, 3, 2)
    if len(ends) != 2:
        raise refused("hexagon", f"points has {len(ends)} points", "give 2")
    width = checked_size("hexagon", "across_flats", across_flats)
    length = float(np.linalg.norm(ends[1] - ends[0]))
    along, aside, upward = crosswise((ends[1] - ends[0]) / length, up, "hexagon").T
    plane = _Plane(ends[0], np.column_stack([aside, upward, along]))
    angles = pi / 3 * np.arange(6)
    outline = width / sqrt(3) * np.column_stack([np.cos(angles), np.sin(angles)])
    error = checked_facet_error("hexagon", facet_error)
    if bore is None:
        return _prism(plane, outline, [], (0.0, length), 0.0)
    radius = checked_size("hexagon", "bore", bore) / 2
    if 2 * radius > width - LEAST_SIZE:
        raise refused(
            "hexagon", f"bore = {number_text(bore)} breaks the flats", f"give less than {number_text(width)} mm"
        )
    count = facets_round(radius, error)
    hole = Cutout("bore", np.zeros(2), np.zeros(2), radius).loop(count)
    return _prism(plane, outline, [hole], (0.0, length), sag(radius, pi / count))


def _cutouts(plane: _Plane, holes: Sequence[Hole], slots: Sequence[Slot], counts: tuple[int, ...]) -> list[Cutout]:
    found = []
    for i, hole in enumerate(holes):
        middle = plane.flat(_place(f"holes[{i}].at", hole.at, counts))
        radius = checked_size("plate", f"holes[{i}].diameter", hole.diameter) / 2
        found.append(Cutout(f"holes[{i}]", middle, middle, radius))
    for i, slot in enumerate(slots):
        start, end = (
            plane.flat(_place(f"slots[{i}].{name}", value, counts))
            for name, value in (("start", slot.start), ("end", slot.end))
        )
        if np.linalg.norm(end - start) < LEAST_SIZE:
            raise refused(
                "plate", f"slots[{i}] starts where it ends, at {number_text(start)}", "give two points, or a hole"
            )
        found.append(Cutout(f"slots[{i}]", start, end, checked_size("plate", f"slots[{i}].width", slot.width) / 2))
    return found


def _place(name: str, value: ArrayLike, counts: tuple[int, ...]) -> Floats:
    return checked_point("plate", name, value, 2 if counts[0] == 2 and np.shape(value) == (2,) else 3)


def _cut_plate(
    plane: _Plane,
    outline: Floats,
    thickness: float,
    side: PlateSide,
    cutouts: list[Cutout],
    facet_error: float,
    outline_error: float = 0.0,
) -> Mesh:
    depth = checked_size("plate", "thickness", thickness)
    wanted = checked_facet_error("plate", facet_error)
    if side not in _REACH:
        raise refused("plate", f"side = {number_text(side)} is unknown", f"give one of {', '.join(_REACH)}")
    low, high = (part * depth for part in _REACH[side])
    check_cutouts("plate", outline, cutouts)
    counts = [facets_round(cutout.radius, wanted) for cutout in cutouts]
    loops = [cutout.loop(count) for cutout, count in zip(cutouts, counts, strict=True)]
    sags = [sag(cutout.radius, pi / count) for cutout, count in zip(cutouts, counts, strict=True)]
    return _prism(plane, outline, loops, (low, high), outline_error + max(sags, default=0.0))


def _prism(plane: _Plane, outline: Floats, holes: list[Floats], heights: tuple[float, float], error: float) -> Mesh:
    """The solid over ``outline`` (counter-clockwise) without ``holes`` (clockwise), between two ``heights`` in mm."""
    corners = np.concatenate([outline, *holes])
    faces = covered(outline, holes)
    walls, first = [], 0
    for loop in (outline, *holes):
        walls.append(_wall(np.arange(first, first + len(loop)), len(corners)))
        first += len(loop)
    vertices = np.concatenate([plane.solid(corners, height) for height in heights])
    return Mesh(vertices, np.concatenate([faces[:, ::-1], faces + len(corners), *walls]), error)


def _wall(loop: Indices, above: int) -> Indices:
    """Two triangles on each edge of ``loop``, whose upper corners have indices higher by ``above``."""
    after = np.roll(loop, -1)
    lower = np.stack([loop, after, after + above], axis=1)
    return np.concatenate([lower, np.stack([loop, after + above, loop + above], axis=1)])
