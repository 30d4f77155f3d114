"""The record of what a file holds and how it hangs together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Literal

from assembly.record.common import (
    drive_entries,
    finding_entries,
    machine_entry,
    moved_entries,
    not_checked_entries,
    program_entry,
    roll_entries,
)
from assembly.record.entries import (
    FORMAT,
    DriveEntry,
    FindingEntry,
    FreedomEntry,
    MachineEntry,
    MovedEntry,
    NotCheckedEntry,
    ProgramEntry,
)
from assembly.record.values import From, Point

if TYPE_CHECKING:
    from assembly.model.edits import Edit
    from assembly.motion.freedoms import Unset
    from assembly.studies.inventory import Inventory


@dataclass(frozen=True, slots=True)
class ShapeEntry:
    """One shape of a part."""

    name: str
    triangles: int


@dataclass(frozen=True, slots=True)
class PartEntry:
    """One part; ``size_mm`` of the box round it, ``moves_with`` the parts it is rigid with."""

    part: str
    fixed: bool
    moves_with: tuple[str, ...]
    shapes: tuple[ShapeEntry, ...]
    triangles: int
    size_mm: Point
    surface_error_mm: float


@dataclass(frozen=True, slots=True)
class TieEntry:
    """One joint; ``miss_mm`` is what it gapes by at rest, once the machine is put together."""

    name: str
    kind: str
    first: str
    second: str
    seat_mm: float
    limit: float | None
    miss_mm: float | None


@dataclass(frozen=True, slots=True)
class LoopEntry:
    """One closed loop of joints and what its worst joint gapes by at rest."""

    joints: tuple[str, ...]
    miss_mm: float | None


@dataclass(frozen=True, slots=True)
class EditEntry:
    """A point of a part's own: ``moved_mm`` from where it was; ``from_`` and lengths are empty for coordinates.

    ``place`` and ``line`` are where the file says so; for a twin that is where its original does.
    """

    part: str
    point: str
    from_: Annotated[str, From]
    length_mm: float | None
    drawn_mm: float | None
    plus_minus: float
    moved_mm: float
    place: str
    line: int | None


@dataclass(frozen=True, slots=True)
class SeatEntry:
    """What of a joined pair belongs to the joint and is left out."""

    a: str
    b: str
    left_out: str


@dataclass(frozen=True, slots=True)
class MobilityEntry:
    """Freedoms at rest with the drives let go, by rank; ``counted`` is what counting joints would give.

    ``driven``: how many motions of joints the drives set.
    """

    freedoms: int
    counted: int
    redundant: int
    driven: int


@dataclass(frozen=True, slots=True)
class InspectRecord:
    """What the file holds. ``faults`` is not empty where the machine cannot be put together."""

    format: int
    kind: Literal["inspect"]
    program: ProgramEntry
    machine: MachineEntry
    drives: dict[str, DriveEntry]
    parts: tuple[PartEntry, ...]
    joints: tuple[TieEntry, ...]
    mobility: MobilityEntry
    freedoms: tuple[FreedomEntry, ...]
    loops: tuple[LoopEntry, ...]
    pairs_checked: int
    not_checked: tuple[NotCheckedEntry, ...]
    seats: tuple[SeatEntry, ...]
    assembled: tuple[MovedEntry, ...]
    findings: tuple[FindingEntry, ...]
    faults: tuple[str, ...]
    edits: tuple[EditEntry, ...] = ()


def inspect_record(listed: Inventory) -> InspectRecord:
    """The record of one inventory."""
    machine, mobility = listed.machine, listed.mobility
    return InspectRecord(
        format=FORMAT,
        kind="inspect",
        program=program_entry(),
        machine=machine_entry(machine),
        drives=drive_entries(machine),
        parts=_parts(listed),
        joints=_joints(listed),
        mobility=MobilityEntry(mobility.freedoms, mobility.counted, mobility.redundant, _driven(listed)),
        freedoms=roll_entries(listed.bodies, listed.idle)
        + tuple(_unset_entry(listed, freedom) for freedom in listed.unset),
        loops=tuple(LoopEntry(joints, miss) for joints, miss in listed.loops),
        pairs_checked=len(listed.pairs.checked),
        not_checked=not_checked_entries(listed.pairs),
        seats=tuple(SeatEntry(pair.a, pair.b, pair.seat) for pair in listed.pairs.checked if pair.seat),
        assembled=moved_entries(listed.mechanism) if listed.mechanism else (),
        findings=finding_entries(machine),
        faults=tuple(str(fault) for fault in listed.faults),
        edits=tuple(map(_edit, machine.edits)),
    )


def _edit(edit: Edit) -> EditEntry:
    return EditEntry(
        part=edit.part,
        point=edit.point,
        from_=edit.start,
        length_mm=edit.length if edit.start else None,
        drawn_mm=edit.drawn_length if edit.start else None,
        plus_minus=edit.plus_minus,
        moved_mm=edit.moved,
        place=edit.place,
        line=edit.line,
    )


def _driven(listed: Inventory) -> int:
    return len({(joint, drive.kind) for drive in listed.machine.drives.values() for joint in drive.ratios})


def _parts(listed: Inventory) -> tuple[PartEntry, ...]:
    return tuple(
        PartEntry(
            part=part.part,
            fixed=part.fixed,
            moves_with=part.moves_with,
            shapes=tuple(ShapeEntry(name, triangles) for name, triangles in part.shapes),
            triangles=part.triangles,
            size_mm=part.size,
            surface_error_mm=part.surface_error,
        )
        for part in listed.parts
    )


def _joints(listed: Inventory) -> tuple[TieEntry, ...]:
    return tuple(
        TieEntry(
            name=joint.name,
            kind=joint.kind.value,
            first=joint.first,
            second=joint.second,
            seat_mm=joint.seat,
            limit=joint.misalignment,
            miss_mm=listed.misses.get(joint.name),
        )
        for joint in listed.joints
    )


def _unset_entry(listed: Inventory, freedom: Unset) -> FreedomEntry:
    parts = tuple(name for body in freedom.bodies for name in listed.bodies.members[body])
    ways = "" if freedom.count == 1 else f" ({freedom.count} freedoms)"
    instant = "stands at a dead centre and can start to move two ways"
    what = f"nothing sets how it moves{ways}" if freedom.lasting else instant
    return FreedomEntry(parts, what, "not held", freedom.count)
