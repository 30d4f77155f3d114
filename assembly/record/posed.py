"""The record of one setting."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from assembly.record.common import (
    drive_entries,
    finding_entries,
    machine_entry,
    moved_entries,
    not_checked_entries,
    overlap_entry,
    program_entry,
    settings_of,
)
from assembly.record.entries import (
    FORMAT,
    DriveEntry,
    FindingEntry,
    MachineEntry,
    MovedEntry,
    NotCheckedEntry,
    OverlapEntry,
    ProgramEntry,
)
from assembly.record.values import Point, Settings, VerdictWord

if TYPE_CHECKING:
    from assembly.model.machine import Machine
    from assembly.studies.look import LookResult, PairSeen


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


def pose_record(looked: LookResult) -> PoseRecord:
    """The record of one look at one setting."""
    machine = looked.mechanism.machine
    pairs = tuple(_pair(machine, seen) for seen in looked.seen)
    verdicts = {pair.verdict for pair in pairs}
    worst: tuple[VerdictWord, ...] = ("fails", "undecided", "clear")
    return PoseRecord(
        format=FORMAT,
        kind="pose",
        program=program_entry(),
        machine=machine_entry(machine),
        drives=drive_entries(machine),
        at=settings_of(machine, looked.at),
        verdict=next((verdict for verdict in worst if verdict in verdicts), "clear"),
        pairs=pairs,
        places=tuple(
            PlaceEntry(place.part, place.fixed, place.middle, place.moved, place.turned_deg, place.about)
            for place in looked.places
        ),
        not_checked=not_checked_entries(looked.pairs),
        assembled=moved_entries(looked.mechanism),
        findings=finding_entries(machine),
    )


def _pair(machine: Machine, seen: PairSeen) -> PairAtEntry:
    pair, witness = seen.pair, seen.witness
    return PairAtEntry(
        a=pair.a,
        b=pair.b,
        shape_a=witness.shape_a,
        shape_b=witness.shape_b,
        required_mm=pair.required,
        distance_mm=witness.distance,
        surface_error_mm=seen.surface_error,
        point_a=witness.point_a,
        point_b=witness.point_b,
        verdict=seen.verdict.value,
        overlap=overlap_entry(machine, seen.overlap, seen.rolls),
        gap_seat=pair.seat or None,
        rolls=dict(zip(seen.rolls, seen.at[len(machine.drives) :], strict=True)),
        unseen_mm=seen.unseen,
        why=seen.open_ if seen.too_near else "",
    )
