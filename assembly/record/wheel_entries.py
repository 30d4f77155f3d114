"""Entries of the record about wheels: how they point, and how the machine stands on its road. mm and degrees."""

from __future__ import annotations

from dataclasses import dataclass

from assembly.record.measure_entries import MeasureTrack
from assembly.record.values import Settings


@dataclass(frozen=True, slots=True)
class WheelEntry:
    """A wheel as the file has it; ``side``: ``left``, ``right`` or ``middle``. ``toe_diameter_mm``: of toe in mm."""

    name: str
    part: str
    side: str
    tyre_diameter_mm: float
    section_mm: float
    toe_diameter_mm: float


@dataclass(frozen=True, slots=True)
class WheelFigureEntry:
    """A figure of wheels, by its ``word`` and the wheels that it is ``of``: with all drives at 0, and where toe is set.

    Null where it has no value.
    """

    name: str
    word: str
    of: tuple[str, ...]
    unit: str
    zero: float | None
    as_set: float | None


@dataclass(frozen=True, slots=True)
class TurningEntry:
    """The circle that the outer front contact runs on, and the angles of the wheels, at an end of steering.

    ``outer_ideal``: of the outer wheel, for the angle that the inner one has.
    """

    pair: tuple[str, str]
    at: Settings
    circle_mm: float | None
    inner: float | None
    outer: float | None
    outer_ideal: float | None


@dataclass(frozen=True, slots=True)
class LowestEntry:
    """How far the lowest point of a part is above the road, mm: the least of the settings that were looked at."""

    part: str
    height_mm: float
    at: Settings


@dataclass(frozen=True, slots=True)
class FrameLeanEntry:
    """The frame against the road, degrees, at a setting; null where it does not stand."""

    at: Settings
    lean: float | None
    pitch: float | None


@dataclass(frozen=True, slots=True)
class WheelTables:
    """How wheels point at settings, and how the frame stands on its road there.

    ``leans`` and ``steers``: the drives that lean and steer the machine most, null if there is none. ``track``:
    every figure over these drives, at the settings that it names. ``toe_wanted``: total toe in mm that the file wants.
    """

    road: str
    frame: str
    wheels: tuple[WheelEntry, ...]
    toe_set_at: Settings
    figures: tuple[WheelFigureEntry, ...]
    leans: str | None
    steers: str | None
    track: MeasureTrack
    lean_ends: tuple[FrameLeanEntry, ...]
    turning: tuple[TurningEntry, ...]
    lowest: tuple[LowestEntry, ...]
    toe_wanted: float | None = None
