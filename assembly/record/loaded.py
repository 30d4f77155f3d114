"""The record of load cases at one setting. Forces N, moments N·m, in the ground's frame, on a joint's second part."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from assembly.record.entries import DriveEntry, FindingEntry, MachineEntry, MovedEntry, ProgramEntry
from assembly.record.values import Point, Settings

LoadWord = Literal["within", "exceeded", "open", "not rated"]
"""What ratings say: kept, passed, not to be reported, or none is given."""
RatedWord = Literal["whole", "radial", "axial"]


@dataclass(frozen=True, slots=True)
class RatingEntry:
    """A rating of the builder's beside the force that it is for, None if that is open and only a least is known."""

    of: RatedWord
    rating_n: float
    force_n: float | None
    at_least_n: float
    reserve_n: float | None
    verdict: LoadWord


@dataclass(frozen=True, slots=True)
class JointLoadEntry:
    """The reaction in one joint; None stands for what depends on stiffness.

    ``along_n`` and ``across_n`` are of the pin's or bolt's line. Where a machine is held more than once, the part of
    force or moment along each of ``force_open`` and ``moment_open``, unit directions, can be anything.
    """

    joint: str
    kind: str
    first: str
    second: str
    at: Point
    force_n: float | None
    force: Point | None
    at_least_n: float
    along_n: float | None
    across_n: float | None
    has_line: bool
    moment_nm: float | None
    moment: Point | None
    moment_at_least_nm: float
    force_open: tuple[Point, ...]
    moment_open: tuple[Point, ...]
    note: str
    ratings: tuple[RatingEntry, ...]


@dataclass(frozen=True, slots=True)
class EffortEntry:
    """What holds a drive at its setting, positive towards higher settings, in ``unit`` ("N·m" or "N")."""

    drive: str
    value: float
    unit: str


@dataclass(frozen=True, slots=True)
class ToggleEntry:
    """Parts that are held softly: ``share`` is the smallest singular value over the largest, 0 at a dead centre."""

    parts: tuple[str, ...]
    joints: tuple[str, ...]
    share: float


@dataclass(frozen=True, slots=True)
class RollEntry:
    """The load turns an idle part about its own line, which nothing holds; told as if something did."""

    part: str
    moment_nm: float


@dataclass(frozen=True, slots=True)
class CarriedEntry:
    """Everything that holds the machine under one load case; joints worst first."""

    verdict: LoadWord
    joints: tuple[JointLoadEntry, ...]
    efforts: tuple[EffortEntry, ...]
    rolls: tuple[RollEntry, ...]


@dataclass(frozen=True, slots=True)
class StopLoadEntry:
    """A stop in place of its drive's effort; ``force_n`` and ``held`` are None if the load pulls away from it."""

    striker: str
    struck: str
    drive: str
    force_n: float | None
    held: CarriedEntry | None


@dataclass(frozen=True, slots=True)
class NotToldEntry:
    """Something that the loads say nothing of, and why."""

    about: str
    reason: str


@dataclass(frozen=True, slots=True)
class CaseEntry:
    """One load case with all drives held, and with its stop where it has one. ``verdict`` is the worse of the two."""

    name: str
    pushes: int
    verdict: LoadWord
    held: CarriedEntry
    stop: StopLoadEntry | None
    on_fixed: tuple[NotToldEntry, ...]


@dataclass(frozen=True, slots=True)
class LoadsRecord:
    """Load cases at one setting, in the order asked for; ``unrolled`` parts can roll and stand at the shortest turn."""

    format: int
    kind: Literal["loads"]
    program: ProgramEntry
    machine: MachineEntry
    drives: dict[str, DriveEntry]
    at: Settings
    verdict: LoadWord
    cases: tuple[CaseEntry, ...]
    near_toggles: tuple[ToggleEntry, ...]
    not_told: tuple[NotToldEntry, ...]
    not_rated: tuple[str, ...]
    assembled: tuple[MovedEntry, ...]
    findings: tuple[FindingEntry, ...]
    unrolled: tuple[str, ...] = ()
