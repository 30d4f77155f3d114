"""The record of one setting."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from assembly.record.entries import (
    DriveEntry,
    FindingEntry,
    MachineEntry,
    MovedEntry,
    NotCheckedEntry,
    ProgramEntry,
)
from assembly.record.measure_entries import MeasureAtEntry
from assembly.record.pair_details import OverlapEntry
from assembly.record.values import Point, Settings, VerdictWord


@dataclass(frozen=True, slots=True)
class PairAtEntry:
    """One pair at the setting; ``surface_error_mm`` is how much nearer the true surfaces may be.

    ``why``: why one that is too near at its worst roll is undecided.

    ``rolls`` in degrees by name: of all that the ends of parts that can roll allow, the worst for the pair;
    ``unseen_mm``: how much nearer it may come at rolls between those that were looked at.
    """

    a: str
    b: str
    shape_a: str
    shape_b: str
    required_mm: float
    distance_mm: float
    surface_error_mm: float
    point_a: Point
    point_b: Point
    verdict: VerdictWord
    overlap: OverlapEntry | None
    gap_seat: str | None
    rolls: Settings = field(default_factory=dict)
    unseen_mm: float = 0.0
    why: str = ""


@dataclass(frozen=True, slots=True)
class PlaceEntry:
    """Where a part stands: the middle of the box round its drawing, how far that went, and how the part turned."""

    part: str
    fixed: bool
    middle: Point
    moved_mm: Point
    turned_deg: float
    about: Point


@dataclass(frozen=True, slots=True)
class PoseRecord:
    """The machine at one setting; pairs with the least room first."""

    format: int
    kind: Literal["pose"]
    program: ProgramEntry
    machine: MachineEntry
    drives: dict[str, DriveEntry]
    at: Settings
    verdict: VerdictWord
    pairs: tuple[PairAtEntry, ...]
    places: tuple[PlaceEntry, ...]
    not_checked: tuple[NotCheckedEntry, ...]
    assembled: tuple[MovedEntry, ...]
    findings: tuple[FindingEntry, ...]
    measures: tuple[MeasureAtEntry, ...] = ()
