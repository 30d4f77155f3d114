"""The record of a sweep, format 1: field names are the keys of the JSON file. mm and degrees, as in the mechanism file.

A field that ends in ``_`` is written without it, where the key is a word of Python. Settings give one value per drive.
A key that came later has a default, which stands where an older record lacks it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Literal

from assembly.record.cable_entries import CablesEntry
from assembly.record.cure_entries import CureEntry
from assembly.record.joint_entries import FirstOutEntry, JointEntry, RodEntry
from assembly.record.measure_entries import MeasureEntry
from assembly.record.pair_details import Contact, EstimateEntry, OverlapEntry, RegionEntry, TermsEntry
from assembly.record.rod_turn_entries import RodsTurnedEntry
from assembly.record.threads import ThreadedRodEntry
from assembly.record.values import From, Point, Settings, VerdictWord
from assembly.record.weight_entry import WeightEntry
from assembly.record.wheel_entries import WheelTables
from assembly.record.work_entry import WorkEntry

FORMAT = 1
LEAST_MISS = 1e-3
"""mm: a loop that misses by less does close."""


@dataclass(frozen=True, slots=True)
class ProgramEntry:
    """What made the record."""

    name: str
    version: str


@dataclass(frozen=True, slots=True)
class MachineEntry:
    """What it is about: the mechanism file, and the SHA-256 of it and of each of its mesh files."""

    name: str
    file: str
    digest: str
    digests: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class DriveEntry:
    """The range that was swept, in ``unit`` ("deg" or "mm")."""

    from_: Annotated[float, From]
    to: float
    unit: str


@dataclass(frozen=True, slots=True)
class DimensionEntry:
    """A named number of the file, its tolerance, and the arithmetic it came from (empty for a plain number).

    ``plus_minus``: half of what it may vary by in all; ``middle``: how far the middle of that lies off the value, 0 for
    limits that are alike. ``general``: the class that it has its tolerance from, where it states none itself.
    """

    value: float
    plus_minus: float
    text: str
    middle: float = 0.0
    general: str = ""

    @property
    def limits(self) -> tuple[float, float]:
        """How far it may be off its value, the lowest first."""
        return self.middle - self.plus_minus, self.middle + self.plus_minus


@dataclass(frozen=True, slots=True)
class SolidEntry:
    """What a part is made of: its triangles, and the size of the box round it at rest."""

    triangles: int
    size_mm: Point


@dataclass(frozen=True, slots=True)
class TravelStopEntry:
    """A stop at one end of a drive; ``height_mm`` is null while it is not known, and the stop then not built in."""

    name: str
    drive: str
    side: Literal["low", "high"]
    height_mm: float | None
    carrier: str
    other: str


@dataclass(frozen=True, slots=True)
class PairEntry:
    """One checked pair. ``least_mm`` and the points are null where the budget ended before the first look.

    ``estimated``: what of ``proven_mm`` is an estimate. ``clear_within``: a smaller range of a drive, swept and clear.
    ``at`` is empty where the least is of the drawing and what is proven of the whole range at once: far pairs.
    """

    a: str
    b: str
    shape_a: str
    shape_b: str
    required_mm: float
    least_mm: float | None
    proven_mm: float | None
    at: Settings
    point_a: Point | None
    point_b: Point | None
    verdict: VerdictWord
    why: str
    overlap: OverlapEntry | None
    gap_seat: str | None
    surface_error_mm: float
    swallowed: bool
    terms: TermsEntry | None
    region: RegionEntry | None
    first_contacts: tuple[Contact, ...]
    estimated: tuple[EstimateEntry, ...] = ()
    cure: CureEntry | None = None
    closed_in: bool = False
    """Whether no setting is nearer than ``least_mm`` by more than the bracket; else it is only what a setting shows."""
    asked: bool = False
    clear_within: Mapping[str, DriveEntry] = field(default_factory=dict)
    constant: bool = False
    """Whether it is as far apart at every setting as ``at``, but for the facets of its surfaces."""

    @property
    def room_mm(self) -> float | None:
        """Clearance beyond what is required, as it was seen; an overlap counts by its depth, below zero."""
        least = -self.overlap.depth_mm if self.overlap else self.least_mm
        return None if least is None else least - self.required_mm

    @property
    def sure_room_mm(self) -> float | None:
        """The same where it was closed in on or does not suffice; else only what is proven of it."""
        seen = self.closed_in or self.verdict != "clear" or self.proven_mm is None
        return self.room_mm if seen else (self.proven_mm or 0.0) - self.required_mm


@dataclass(frozen=True, slots=True)
class NotCheckedEntry:
    """A pair that was not checked."""

    a: str
    b: str
    reason: str


@dataclass(frozen=True, slots=True)
class FreedomEntry:
    """A freedom, or ``count`` of the same parts, and the rule by which it is held."""

    parts: tuple[str, ...]
    what: str
    held: str
    count: int = 1


@dataclass(frozen=True, slots=True)
class UnreachableEntry:
    """A setting at which the machine locks or does not go together, or at which its motion could not be proven."""

    at: Settings
    loop: tuple[str, ...]
    miss_mm: float
    share: float
    message: str
    drives: tuple[str, ...] = ()
    near_singular: bool = False
    held_twice: bool = False
    """``share`` of the way from rest; ``drives`` that matter, or all; it may fold over; held by more than it needs."""

    @property
    def missed(self) -> bool:
        """Whether it was seen not to go together here; else only the motion round here could not be proven."""
        return self.miss_mm > LEAST_MISS or (self.share < 1.0 and not self.held_twice)


@dataclass(frozen=True, slots=True)
class MovedEntry:
    """What an edited length moved at rest."""

    part: str
    moved_mm: float
    turned_deg: float


@dataclass(frozen=True, slots=True)
class FindingEntry:
    """Something about the input that the builder should know; ``parts`` concerned and ``line`` of the file, if any."""

    kind: str
    about: str
    message: str
    parts: tuple[str, ...] = ()
    line: int | None = None


@dataclass(frozen=True, slots=True)
class Record:
    """Everything one sweep found, pairs with the least room first.

    ``loose``: the joints that have play, which a sweep does not count.
    """

    format: int
    program: ProgramEntry
    machine: MachineEntry
    made: str
    drives: Mapping[str, DriveEntry]
    verdict: VerdictWord
    reason: str
    pairs: tuple[PairEntry, ...]
    not_checked: tuple[NotCheckedEntry, ...]
    joints: tuple[JointEntry, ...]
    first_out: tuple[FirstOutEntry, ...]
    rods: tuple[RodEntry, ...]
    freedoms: tuple[FreedomEntry, ...]
    unreachable: tuple[UnreachableEntry, ...]
    unreachable_share: float
    assembled: tuple[MovedEntry, ...]
    findings: tuple[FindingEntry, ...]
    measures: tuple[MeasureEntry, ...]
    stops: tuple[TravelStopEntry, ...]
    work: WorkEntry
    dimensions: Mapping[str, DimensionEntry] = field(default_factory=dict)
    parts: Mapping[str, SolidEntry] = field(default_factory=dict)
    threads: tuple[ThreadedRodEntry, ...] = ()
    weight: WeightEntry | None = None
    wheels: WheelTables | None = None
    cables: CablesEntry | None = None
    rods_turned: RodsTurnedEntry | None = None
    loose: tuple[str, ...] = ()
