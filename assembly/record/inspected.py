"""The record of what a file holds and how it hangs together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from assembly.record.entries import (
    DriveEntry,
    FindingEntry,
    FreedomEntry,
    MachineEntry,
    MovedEntry,
    NotCheckedEntry,
    ProgramEntry,
)
from assembly.record.values import From, Point


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
    """What the file holds. ``faults`` is not empty if the machine cannot be put together."""

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
