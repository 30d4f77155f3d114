"""Points, lines and planes of parts, by which measures, wheels, cables and readings say where they look."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from assembly.model.quantities import Vector

GROUND = ""
"""The part of what stands still: the axes of the file."""


class FeatureKind(StrEnum):
    """What a feature is."""

    POINT = "point"
    LINE = "line"
    PLANE = "plane"
    DIRECTION = "direction"
    """A line of which only the direction counts, because it lies nowhere."""


@dataclass(frozen=True, slots=True)
class Feature:
    """A point, line, plane or direction that moves with ``part``, or stands still with ``GROUND``; given as drawn.

    ``at`` (mm): the point, or a point of the line or plane; None for a direction. ``along``: the unit vector of a line
    or direction, or a plane's normal; None for a point. ``words``: what a report calls it.
    """

    part: str
    kind: FeatureKind
    at: Vector | None
    along: Vector | None
    words: str = ""
