"""The record of load cases over the whole range: the worst of a grid of settings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from assembly.record.common import (
    drive_entries,
    finding_entries,
    machine_entry,
    moved_entries,
    program_entry,
    unrolled_parts,
)
from assembly.record.entries import FORMAT, DriveEntry, FindingEntry, MachineEntry, MovedEntry, ProgramEntry
from assembly.record.loaded import LoadWord, NotToldEntry, RatingEntry, fixed_entries, rating_entry, worst_of
from assembly.record.values import Settings

if TYPE_CHECKING:
    from assembly.model.machine import Machine
    from assembly.studies.load_range import CaseRange, LoadRange


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


def load_range_record(found: LoadRange) -> LoadRangeRecord:
    """The record of load cases over the range; where a rating exists, a setting that tells nothing leaves it open."""
    machine = found.mechanism.machine
    lost = bool(found.not_reached or found.dead_centres)
    rated = any(joint.ratings for joint in machine.joints.values())
    cases = tuple(_case(machine, case, lost=lost and rated) for case in found.cases)
    return LoadRangeRecord(
        format=FORMAT,
        kind="load range",
        program=program_entry(),
        machine=machine_entry(machine),
        drives=drive_entries(machine),
        verdict=worst_of(case.verdict for case in cases),
        cases=cases,
        near_toggles=tuple(
            ToggleRangeEntry(toggle.parts, toggle.share, _settings(machine, toggle.at)) for toggle in found.toggles
        ),
        not_rated=tuple(
            name for name, joint in machine.joints.items() if not joint.ratings and joint.kind.value != "rigid"
        ),
        settings=found.settings,
        not_reached=tuple(_settings(machine, at) for at in found.not_reached),
        dead_centres=tuple(_settings(machine, at) for at in found.dead_centres),
        assembled=moved_entries(found.mechanism),
        findings=finding_entries(machine),
        unrolled=unrolled_parts(found.mechanism),
    )


def _case(machine: Machine, case: CaseRange, *, lost: bool) -> CaseRangeEntry:
    ratings = tuple(
        WorstRatingEntry(worst.check.rating.joint, rating_entry(worst.check), _settings(machine, worst.at))
        for worst in case.checks
    )
    verdicts: list[LoadWord] = [entry.rating.verdict for entry in ratings]
    return CaseRangeEntry(
        name=case.name,
        verdict=worst_of([*verdicts, "open"] if lost else verdicts),
        ratings=ratings,
        joints=tuple(
            LargestEntry(each.joint.name, each.joint.kind.value, each.newtons, _settings(machine, each.at), each.open)
            for each in case.forces
        ),
        efforts=tuple(
            LargestEffortEntry(each.drive, each.value, each.unit, _settings(machine, each.at)) for each in case.efforts
        ),
        stop=case.case.stop is not None,
        on_fixed=fixed_entries(machine, case.case),
    )


def _settings(machine: Machine, at: tuple[float, ...]) -> Settings:
    return dict(zip(machine.drives, at, strict=True))
