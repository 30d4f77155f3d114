"""What the builder measures on the machine, as plain values: angles, distances, coordinates, a level's reading."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from assembly.model.feature import Feature


class MeasureKind(StrEnum):
    """What is read, and in which unit."""

    ANGLE = "angle"
    """Degrees between two lines or planes; about an axis, degrees from the first to the second, right-handed."""
    DISTANCE = "distance"
    """Mm between two of points, lines and planes; of a plane, along its normal with the sign of the side."""
    COORDINATE = "coordinate"
    """Mm of a point along an axis, from a point of that axis or from the file's origin."""
    LEVEL = "level"
    """Degrees that a line rises, or that a plane leans, against level ground."""
    PATH = "path"
    """Mm along the runs of a cable."""
    STRAIGHT = "straight"
    """Mm of the shortest straight that the arcs of a cable leave; below 0 they do not fit."""
    BENDS = "bends"
    """Degrees by which a cable turns in all."""

    @property
    def unit(self) -> str:
        """``deg`` or ``mm``."""
        return "deg" if self in (MeasureKind.ANGLE, MeasureKind.LEVEL, MeasureKind.BENDS) else "mm"


@dataclass(frozen=True, slots=True)
class Path:
    """A way through ``points`` of a measure, their numbers among its features, rounded at each with radius ``bend``.

    ``at_least``: what it counts where it is shorter: a hose that is cut. ``weight``: how often it counts. All in mm.
    """

    points: tuple[int, ...]
    bend: float = 0.0
    at_least: float = 0.0
    weight: float = 1.0


@dataclass(frozen=True, slots=True)
class Measure:
    """One measure: of its ``features``, one or two, and with limits ``least`` and ``most`` in its unit, if any.

    ``axis``: of an angle that has a sign, the line that it turns about; of a coordinate, the line along which it
    counts; of a level, the way up. ``paths``: of a cable, its runs; ``more``: what is added to them; ``from_zero``:
    it counts from what it is with all drives at 0.
    """

    name: str
    kind: MeasureKind
    features: tuple[Feature, ...]
    axis: Feature | None = None
    least: float | None = None
    most: float | None = None
    paths: tuple[Path, ...] = ()
    more: float = 0.0
    from_zero: bool = False

    @property
    def unit(self) -> str:
        """``deg`` or ``mm``."""
        return self.kind.unit

    @property
    def limits(self) -> tuple[float | None, float | None]:
        """The least and the most that it may be; None where nothing limits it."""
        return self.least, self.most

    @property
    def is_turn(self) -> bool:
        """Whether it is an angle about an axis, which counts past half a turn."""
        return self.kind is MeasureKind.ANGLE and self.axis is not None
