"""How many facets a curved surface gets for a wanted error, and what error they leave.

A chord of a circle of radius r that spans the angle 2h stays inside the circle by at most its sagitta
r(1 - cos h) = 2 r sin²(h/2), at the middle of the chord (closed form). All facets here are inscribed: their
corners lie on the true surface.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from math import asin, ceil, pi, radians, sin, sqrt

LEAST_ROUND = 12
MOST_ROUND = 360
MOST_TRIANGLES = 20_000
"""Of one doubly curved shape; a finer wish is met as far as this goes, and the surface error says how far."""

_WIDEST_STEP = radians(30)
_FINEST_STEP = radians(1)


def sag(radius: float, half_angle: float) -> float:
    """Greatest distance in mm between an arc of ``radius`` mm over twice ``half_angle`` (rad) and its chord."""
    return 2 * radius * sin(half_angle / 2) ** 2


def facets_round(radius: float, error: float) -> int:
    """Facets round a circle that sag by at most ``error`` mm, from 12 to 360.

    A multiple of four, so that the corners reach the full width both ways across.
    """
    return counted(min(max(4 * ceil(pi / _half_angle(radius, error) / 4), LEAST_ROUND), MOST_ROUND))


def steps_along(radius: float, angle: float, error: float) -> int:
    """Chords along an arc of ``angle`` (rad) that sag by at most ``error`` mm, each from 1 to 30 degrees long."""
    step = min(max(2 * _half_angle(radius, error), _FINEST_STEP), _WIDEST_STEP)
    return counted(max(ceil(angle / step - 1e-9), 1))


def affordable(error: float, triangles: Callable[[float], int]) -> float:
    """``error`` mm, or a coarser one that keeps ``triangles(error)`` within MOST_TRIANGLES, if any can."""
    coarsest = 1e4 * error
    while triangles(error) > MOST_TRIANGLES and error < coarsest:
        error *= 1.1
    return error


def _half_angle(radius: float, error: float) -> float:
    return 2 * asin(min(sqrt(error / (2 * radius)), sqrt(0.5)))


@dataclass(slots=True)
class Counts:
    """The numbers of facets of a shape in the order in which they were chosen, and which of them is taken next."""

    chosen: list[int] = field(default_factory=list)
    taken: int = 0


_KEPT: ContextVar[Counts | None] = ContextVar("facet_counts", default=None)


@contextmanager
def facets_as(chosen: Sequence[int] = ()) -> Iterator[Counts]:
    """Shapes made here get the numbers of facets ``chosen`` for others of their kind, one after another.

    So a shape with other sizes has the same facets, with corners a little elsewhere. Beyond those that are given they
    are chosen as ever; all that are taken are in what this gives.
    """
    counts = Counts(list(chosen))
    token = _KEPT.set(counts)
    try:
        yield counts
    finally:
        _KEPT.reset(token)


def counted(count: int) -> int:
    """``count`` facets, or in ``facets_as`` as many as are to be taken."""
    counts = _KEPT.get()
    if counts is None:
        return count
    if counts.taken == len(counts.chosen):
        counts.chosen.append(count)
    counts.taken += 1
    return counts.chosen[counts.taken - 1]
