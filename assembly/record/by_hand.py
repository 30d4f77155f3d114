"""The record of ``swingroom play``: how far wheels and drives go by hand from end to end, and parts either way."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from assembly.record.entries import DriveEntry, MachineEntry, ProgramEntry
from assembly.record.spread import PlayEntry
from assembly.record.values import Settings


@dataclass(frozen=True, slots=True)
class RimEntry:
    """How far the rim of a wheel at ``radius_mm`` goes along its axle, shaken there (``place``) with the drives held.

    ``goes_mm`` to first order; ``at_most_mm``: proven; null where nothing is. ``most_of``: the joint that gives most,
    empty where none does.
    """

    wheel: str
    place: Literal["top", "front"]
    radius_mm: float
    goes_mm: float
    at_most_mm: float | None
    most_of: str


@dataclass(frozen=True, slots=True)
class DriveByHandEntry:
    """How far a drive goes, in its own unit, with the parts ``held`` where they stand; null where nothing stops it."""

    drive: str
    unit: str
    held: tuple[str, ...]
    goes: float | None


@dataclass(frozen=True, slots=True)
class PartByHandEntry:
    """How far any point of a part goes, either way, and how far the part turns with the drives held, to first order.

    ``at_most_mm``: proven; null where nothing is. ``most_of``: the joint that gives most, empty where none does.
    """

    part: str
    goes_mm: float
    turns_deg: float
    at_most_mm: float | None
    most_of: str


@dataclass(frozen=True, slots=True)
class PlayRecord:
    """What play lets go at the setting ``at``: parts, those that go farthest first."""

    program: ProgramEntry
    machine: MachineEntry
    drives: Mapping[str, DriveEntry]
    at: Settings
    rims: tuple[RimEntry, ...]
    by_drives: tuple[DriveByHandEntry, ...]
    parts: tuple[PartByHandEntry, ...]
    play: tuple[PlayEntry, ...]
    kind: Literal["play"] = "play"
