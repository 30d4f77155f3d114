"""What would cure a failing pair, as part of a sweep's record."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from assembly.record.values import Point


@dataclass(frozen=True, slots=True)
class NearerEntry:
    """A pair that a cure brings nearer: its least then, and before where that was closed in on."""

    a: str
    b: str
    before_mm: float | None
    least_mm: float


@dataclass(frozen=True, slots=True)
class CureEntry:
    """What was swept over the whole range and seen to cure a pair.

    Either ``shape`` of ``part`` drawn ``shift_mm`` farther along ``direction``; or, of joined parts, ``seat_mm`` round
    ``joint``; or the shapes of each part in ``bearing`` named as the seat of ``joint``. ``clear`` is false where a seat
    takes out what is round the joint, and more is left that strikes.
    """

    part: str = ""
    shape: str = ""
    shift_mm: float = 0.0
    direction: Point = (0.0, 0.0, 0.0)
    nearer: tuple[NearerEntry, ...] = ()
    joint: str = ""
    seat_mm: float = 0.0
    bearing: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    clear: bool = True
    ball: tuple[str, str] | None = None
    """Part and shape that ``seat_mm`` holds, where the file may leave the seat to the program."""
