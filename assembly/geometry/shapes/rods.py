"""Rods and tubes of round, square or rectangular section, straight or along points with bent corners."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import ArrayLike

from assembly.geometry.mesh import Floats, Indices, Mesh
from assembly.geometry.shapes.bends import Bend, CentreLine, centre_line
from assembly.geometry.shapes.checks import (
    LEAST_SIZE,
    checked_facet_error,
    checked_size,
    checked_sizes,
    number_text,
    refused,
)
from assembly.geometry.shapes.closed_surfaces import cap, lofted
from assembly.geometry.shapes.facets import affordable, facets_round, sag, steps_along


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
