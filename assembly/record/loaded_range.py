"""The record of load cases over the whole range: the worst of a grid of settings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from assembly.record.entries import DriveEntry, FindingEntry, MachineEntry, MovedEntry, ProgramEntry
from assembly.record.loaded import LoadWord, NotToldEntry, RatingEntry
from assembly.record.values import Settings


@dataclass(frozen=True, slots=True)
class WorstRatingEntry:
    """A rated joint at the setting where it bears its load worst."""

    joint: str
    rating: RatingEntry
    at: Settings


@dataclass(frozen=True, slots=True)
class LargestEntry:
    """The largest force of a joint; at least that much where the split is open, at ``open_settings`` of the grid."""

    joint: str
    kind: str
    force_n: float
    at: Settings
    open_settings: int


@dataclass(frozen=True, slots=True)
class LargestEffortEntry:
    """The largest effort of a drive, either way, in ``unit`` ("N·m" or "N")."""

    drive: str
    value: float
    unit: str
    at: Settings


@dataclass(frozen=True, slots=True)
class CaseRangeEntry:
    """One load case over the range; ``stop`` says that it has one, which is left out here."""

    name: str
    verdict: LoadWord
    ratings: tuple[WorstRatingEntry, ...]
    joints: tuple[LargestEntry, ...]
    efforts: tuple[LargestEffortEntry, ...]
    stop: bool
    on_fixed: tuple[NotToldEntry, ...]


@dataclass(frozen=True, slots=True)
class ToggleRangeEntry:
    """Parts that are held softly somewhere; ``share`` and ``at`` where it is worst."""

    parts: tuple[str, ...]
    share: float
    at: Settings


@dataclass(frozen=True, slots=True)
class LoadRangeRecord:
    """Load cases over a grid of ``settings``; nothing is known where it was ``not_reached`` or at a dead centre."""

    format: int
    kind: Literal["load range"]
    program: ProgramEntry
    machine: MachineEntry
    drives: dict[str, DriveEntry]
    verdict: LoadWord
    cases: tuple[CaseRangeEntry, ...]
    near_toggles: tuple[ToggleRangeEntry, ...]
    not_rated: tuple[str, ...]
    settings: int
    not_reached: tuple[Settings, ...]
    dead_centres: tuple[Settings, ...]
    assembled: tuple[MovedEntry, ...]
    findings: tuple[FindingEntry, ...]
    unrolled: tuple[str, ...] = ()
