"""Lengths, straights and bends of the paths of cables, of points that move with bodies.

A path goes straight from point to point. At each point between its ends it turns by an angle θ and is rounded by an arc
of radius R that both straights run into: each of them ends R tan(θ/2) before the point, and the path is
2 R tan(θ/2) - R θ shorter than the straights to the point and on (closed form of a circle that touches two lines).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import reduce
from itertools import pairwise

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.kinematics.taylor import (
    GRAIN,
    Taylor,
    angle,
    corner_saved,
    cross_product,
    inner_product,
    inverse,
    larger,
    size_of,
    smaller,
)
from assembly.model.measure import Measure, MeasureKind, Path

DEGREES = 180.0 / np.pi


@dataclass(frozen=True, slots=True, eq=False)
class PathPoint:
    """A point of a path: the ``body`` that it moves with, where it is drawn (3,) mm, and where it stands (N, 3)."""

    body: int
    drawn: Floats
    place: Taylor


Corner = tuple[PathPoint, PathPoint, PathPoint]


def cable_figure(measure: Measure, points: Sequence[PathPoint]) -> Taylor:
    """A measure (N,) of the paths of a cable among its ``points``, in its unit."""
    ways = [[points[number] for number in path.points] for path in measure.paths]
    nothing = points[0].place.component(0).times(0.0)
    if measure.kind is MeasureKind.BENDS:
        return _sum([_turn(*corner) for way in ways for corner in _corners(way)], nothing).times(DEGREES)
    if measure.kind is MeasureKind.STRAIGHT:
        straights = [left for path, way in zip(measure.paths, ways, strict=True) for left in _straights(path, way)]
        return reduce(smaller, straights)
    lengths = [_counted(path, way, nothing) for path, way in zip(measure.paths, ways, strict=True)]
    sizes = np.abs([length.value for length in lengths]).sum(axis=0)
    rounding = np.asarray(GRAIN * (abs(measure.more) + sizes))
    return _sum(lengths, nothing).plus(measure.more).uncertain(rounding)


def _counted(path: Path, way: Sequence[PathPoint], nothing: Taylor) -> Taylor:
    """What a path counts: its length, or that of the hose that it lies in where this is longer."""
    length = _sum([_length(a, b) for a, b in pairwise(way)], nothing)
    if path.bend:
        saved = [corner_saved(_tangent_squared(*_sides(*corner))) for corner in _corners(way)]
        length = length - _sum(saved, nothing).times(path.bend)
    if path.at_least:
        length = larger(length, nothing.plus(path.at_least))
    return length.times(path.weight)


def _straights(path: Path, way: Sequence[PathPoint]) -> list[Taylor]:
    """What the arcs leave of each straight of a path."""
    nothing = way[0].place.component(0).times(0.0)
    taken = [nothing, *(_tangent(*_sides(*corner)).times(path.bend) for corner in _corners(way)), nothing]
    whole = [_length(a, b) for a, b in pairwise(way)]
    return [length - before - after for length, (before, after) in zip(whole, pairwise(taken), strict=True)]


def _corners(way: Sequence[PathPoint]) -> list[Corner]:
    """Each point between the ends with the one before it and the one after."""
    return list(zip(way, way[1:], way[2:], strict=False))


def _length(a: PathPoint, b: PathPoint) -> Taylor:
    """How far two points are apart, which never changes on one body."""
    if a.body != b.body:
        return size_of(b.place - a.place)
    return a.place.component(0).times(0.0).plus(float(np.linalg.norm(b.drawn - a.drawn)))


def _sides(a: PathPoint, b: PathPoint, c: PathPoint) -> tuple[Taylor, Taylor]:
    """The ways to a corner and from it; as drawn where all of it is on one body."""
    if a.body == b.body == c.body:
        return _still(b.drawn - a.drawn, a.place), _still(c.drawn - b.drawn, a.place)
    return b.place - a.place, c.place - b.place


def _still(vector: Floats, like: Taylor) -> Taylor:
    """A vector (3,) that does not move, over the same cells."""
    nothing = like.times(0.0)
    return replace(nothing, value=nothing.value + vector)


def _tangent_squared(u: Taylor, v: Taylor) -> Taylor:
    """The square of the tangent of half the angle between two vectors."""
    sizes, ahead = size_of(u) * size_of(v), inner_product(u, v)
    return (sizes - ahead) * inverse(sizes + ahead)


def _tangent(u: Taylor, v: Taylor) -> Taylor:
    return size_of(cross_product(u, v)) * inverse(size_of(u) * size_of(v) + inner_product(u, v))


def _turn(a: PathPoint, b: PathPoint, c: PathPoint) -> Taylor:
    u, v = _sides(a, b, c)
    return angle(size_of(cross_product(u, v)), inner_product(u, v))


def _sum(numbers: Sequence[Taylor], nothing: Taylor) -> Taylor:
    return reduce(Taylor.__add__, numbers, nothing)
