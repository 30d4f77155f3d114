"""Flat outlines and the holes in them: checked, then covered with triangles. The only door to shapely."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import pi

import numpy as np
import shapely
from numpy.typing import ArrayLike

from assembly.geometry.mesh import Floats, Indices
from assembly.geometry.shapes.checks import LEAST_SIZE, checked_points, number_text, refused


@dataclass(frozen=True, slots=True, eq=False)
class Cutout:
    """A hole, or a slot with round ends: all points within ``radius`` mm of the line from ``start`` to ``end`` (2,)."""

    name: str
    start: Floats
    end: Floats
    radius: float

    def loop(self, count: int) -> Floats:
        """Its edge (n, 2), clockwise, with ``count`` facets round a full turn and the corners on the true edge."""
        run = self.end - self.start
        if not run.any():
            angles = 2 * pi * np.arange(count) / count
            corners = self.start + self.radius * _spokes(angles)
        else:
            half = np.arctan2(run[1], run[0]) - pi / 2 + 2 * pi * np.arange(count // 2 + 1) / count
            corners = np.concatenate(
                [self.end + self.radius * _spokes(half), self.start + self.radius * _spokes(half + pi)]
            )
        return corners[::-1]

    @property
    def line(self) -> shapely.Geometry:
        """The way of the cutter's middle."""
        if (self.end == self.start).all():
            return shapely.Point(self.start)
        return shapely.LineString([self.start, self.end])


def checked_outline(shape: str, name: str, points: Sequence[ArrayLike] | Floats) -> Floats:
    """``points`` as the corners (n, 2) in mm of an outline that does not cross itself, counter-clockwise.

    The first point may be repeated as the last.
    """
    corners = checked_points(shape, name, points, 2, 3)
    if np.linalg.norm(corners[-1] - corners[0]) < LEAST_SIZE:
        corners = corners[:-1]
    if len(corners) < 3:
        raise refused(shape, f"{name} has {len(corners)} different points", "give at least 3")
    area = shapely.Polygon(corners)
    if not shapely.is_valid(area):
        place = shapely.is_valid_reason(area).partition("[")[2].rstrip("]")
        problem = f"{name} crosses or touches itself near ({', '.join(place.split())})"
        raise refused(shape, problem, "give the corners in order, once round")
    return corners if shapely.is_ccw(area.exterior) else corners[::-1].copy()


def check_cutouts(shape: str, outline: Floats, cutouts: Sequence[Cutout]) -> None:
    """ShapeError where a hole or slot breaks the edge, lies outside of it or runs into another."""
    area = shapely.Polygon(outline)
    for cutout in cutouts:
        room = float(area.exterior.distance(cutout.line))
        if not area.contains(cutout.line):
            place = (
                f"{number_text(cutout.start)} to {number_text(cutout.end)}"
                if cutout.line.length
                else number_text(cutout.start)
            )
            raise refused(shape, f"{cutout.name} at {place} lies outside the outline", "set its middle inside")
        if room < cutout.radius + LEAST_SIZE:
            raise refused(
                shape,
                f"{cutout.name} cuts the edge: its radius is {number_text(cutout.radius)} mm "
                f"and its middle {number_text(room)} mm from the outline",
                "keep it whole, or draw the notch in the outline",
            )
    for first, second in combinations(cutouts, 2):
        apart = float(first.line.distance(second.line))
        if apart < first.radius + second.radius + LEAST_SIZE:
            raise refused(
                shape,
                f"{first.name} and {second.name} run into each other: their middles are {number_text(apart)} mm apart",
                f"keep them more than {number_text(first.radius + second.radius)} mm apart, or take one away with cut",
            )


def covered(outline: Floats, holes: Sequence[Floats]) -> Indices:
    """Triangles (m, 3), counter-clockwise, over the area in ``outline`` and outside ``holes``.

    Indices count the corners of the outline and then those of each hole. Every corner is used, those on a straight
    edge too, so that walls fit; the triangles are Delaunay's within the edges, the least slender there are.
    """
    corners = np.concatenate([outline, *holes])
    number = {(x, y): i for i, (x, y) in enumerate(corners.tolist())}
    tiles = shapely.get_parts(shapely.constrained_delaunay_triangles(shapely.Polygon(outline, holes)))
    points = shapely.get_coordinates(tiles).reshape(-1, 4, 2)[:, :3]
    faces = np.array([[number[x, y] for x, y in tile] for tile in points.tolist()], dtype=np.int64)
    a, b, c = (corners[faces[:, k]] for k in range(3))
    clockwise = (b - a)[:, 0] * (c - a)[:, 1] < (b - a)[:, 1] * (c - a)[:, 0]
    faces[clockwise] = faces[clockwise, ::-1]
    return faces


def _spokes(angles: Floats) -> Floats:
    return np.column_stack([np.cos(angles), np.sin(angles)])
