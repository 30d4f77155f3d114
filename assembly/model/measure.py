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

    @property
    def unit(self) -> str:
        """``deg`` or ``mm``."""
        return "mm" if self in (MeasureKind.DISTANCE, MeasureKind.COORDINATE) else "deg"


@dataclass(frozen=True, slots=True)
class Measure:
    """One measure: of its ``features``, one or two, and with limits ``least`` and ``most`` in its unit, if any.

    ``axis``: of an angle that has a sign, the line that it turns about; of a coordinate, the line along which it
    counts; of a level, the way up.
    """

    name: str
    kind: MeasureKind
    features: tuple[Feature, ...]
    axis: Feature | None = None
    least: float | None = None
    most: float | None = None

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
