"""Lengths, straights and bends of the paths of cables, of points that move with bodies.

A path goes straight from point to point. At each point between its ends it turns by an angle θ and is rounded by an arc
of radius R that both straights run into: each of them ends R tan(θ/2) before the point, and the path is
2 R tan(θ/2) - R θ shorter than the straights to the point and on (closed form of a circle that touches two lines).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce
from itertools import pairwise

import numpy as np

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


def cable_figure(measure: Measure, points: Sequence[Taylor]) -> Taylor:
    """A measure (N,) of the paths of a cable among its ``points`` (N, 3), in its unit."""
    ways = [[points[number] for number in path.points] for path in measure.paths]
    if measure.kind is MeasureKind.BENDS:
        total = _sum([_turn(corner) for way in ways for corner in _corners(way)], points[0])
        return total.times(DEGREES)
    if measure.kind is MeasureKind.STRAIGHT:
        straights = [left for path, way in zip(measure.paths, ways, strict=True) for left in _straights(path, way)]
        return reduce(smaller, straights)
    lengths = [_counted(path, way) for path, way in zip(measure.paths, ways, strict=True)]
    sizes = np.abs([length.value for length in lengths]).sum(axis=0)
    rounding = np.asarray(GRAIN * (abs(measure.more) + sizes))
    return _sum(lengths, points[0]).plus(measure.more).uncertain(rounding)


def _counted(path: Path, way: Sequence[Taylor]) -> Taylor:
    """What a path counts: its length, or that of the hose that it lies in where this is longer."""
    length = _sum([size_of(b - a) for a, b in pairwise(way)], way[0])
    if path.bend:
        length = length - _sum([corner_saved(_tangent_squared(*each)) for each in _corners(way)], way[0]).times(
            path.bend
        )
    if path.at_least:
        length = larger(length, _nothing(way[0]).plus(path.at_least))
    return length.times(path.weight)


def _straights(path: Path, way: Sequence[Taylor]) -> list[Taylor]:
    """What the arcs leave of each straight of a path."""
    nothing = _nothing(way[0])
    taken = [nothing, *(_tangent(*each).times(path.bend) for each in _corners(way)), nothing]
    whole = [size_of(b - a) for a, b in pairwise(way)]
    return [length - before - after for length, (before, after) in zip(whole, pairwise(taken), strict=True)]


def _corners(way: Sequence[Taylor]) -> list[tuple[Taylor, Taylor]]:
    """The ways to and from each point between the ends."""
    return list(pairwise(b - a for a, b in pairwise(way)))


def _tangent_squared(u: Taylor, v: Taylor) -> Taylor:
    """The square of the tangent of half the angle between two vectors."""
    sizes, ahead = size_of(u) * size_of(v), inner_product(u, v)
    return (sizes - ahead) * inverse(sizes + ahead)


def _tangent(u: Taylor, v: Taylor) -> Taylor:
    return size_of(cross_product(u, v)) * inverse(size_of(u) * size_of(v) + inner_product(u, v))


def _turn(corner: tuple[Taylor, Taylor]) -> Taylor:
    u, v = corner
    return angle(size_of(cross_product(u, v)), inner_product(u, v))


def _sum(numbers: Sequence[Taylor], like: Taylor) -> Taylor:
    return reduce(Taylor.__add__, numbers, _nothing(like))


def _nothing(like: Taylor) -> Taylor:
    """0 over the same cells."""
    return like.component(0).times(0.0)
