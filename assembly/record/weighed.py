"""The record of weights: masses in kg, centres and distances in mm, lean moments in N·m."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from assembly.record.entries import DriveEntry, MachineEntry, ProgramEntry
from assembly.record.values import Point, Settings

AxisWord = Literal["x", "y", "z"]


@dataclass(frozen=True, slots=True)
class PartWeightEntry:
    """A part, or what is carried (``carried`` its name): mass and centre as drawn.

    ``by``: what the mass is from; ``source``: where a density is from. ``volume_mm3`` is null where it was not needed.
    ``why``: why the mass is not known, which then is 0; empty where it is.
    """

    part: str
    mass_kg: float
    centre: Point
    by: str
    source: str
    volume_mm3: float | None
    why: str
    carried: str = ""


@dataclass(frozen=True, slots=True)
class CentreSpanEntry:
    """How far the centre of all goes along an axis, at the settings looked at."""

    axis: AxisWord
    least: float
    most: float
    at_least: Settings
    at_most: Settings


@dataclass(frozen=True, slots=True)
class LeanMomentEntry:
    """Of the drive that leans the machine at ``at``, the others at 0: the moment; above 0 it leans it farther."""

    at: float
    moment_nm: float


@dataclass(frozen=True, slots=True)
class BendEntry:
    """A bend: the lean at which weight and centrifugal force go through the line leaned about, atan(v²/(g R))."""

    speed: float
    radius: float
    lean_deg: float


@dataclass(frozen=True, slots=True)
class LeanEntry:
    """How the machine leans by a drive: ``height_mm`` of its centre above the line with all drives at 0."""

    drive: str
    frame: bool
    height_mm: float
    moments: tuple[LeanMomentEntry, ...]
    bends: tuple[BendEntry, ...]


@dataclass(frozen=True, slots=True)
class TurnOverEntry:
    """A contact line: how far inside of it the centre stands, seen along the pull of weights; below 0 it is outside.

    ``inside_mm`` with all drives at 0, ``least_mm`` over the lean, at ``at``; null without a lean. ``over_at``: leans
    at which the centre is just over the line. ``sideways``: share of g across the line at which it turns over at 0.
    """

    line: str
    inside_mm: float
    height_mm: float
    sideways: float | None
    least_mm: float | None
    at: float | None
    over_at: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class RoadTurnOverEntry:
    """A line between two contacts on the road: how far inside of it the centre stands, seen along the road's normal.

    ``inside_mm`` and ``height_mm`` over the road with all drives at 0; ``least_mm`` of the settings looked at, ``at``.
    """

    line: str
    inside_mm: float
    height_mm: float
    least_mm: float
    at: Settings


@dataclass(frozen=True, slots=True)
class WeightsRecord:
    """What a machine weighs: ``parts`` heaviest first, all together, over the range, and as it leans.

    ``settings``: how many were looked at; ``lost``: how many of them cannot be reached. ``unknown``: parts without a
    mass, which nothing here contains.
    """

    program: ProgramEntry
    machine: MachineEntry
    drives: Mapping[str, DriveEntry]
    mass_kg: float
    centre: Point
    parts: tuple[PartWeightEntry, ...]
    unknown: tuple[str, ...]
    spans: tuple[CentreSpanEntry, ...]
    settings: int
    lost: int
    lean: LeanEntry | None
    contacts: tuple[TurnOverEntry, ...]
    on_road: tuple[RoadTurnOverEntry, ...] = ()
    """About the lines between the contacts of wheels; empty where the file has none."""
