"""The record of load cases at one setting. Forces N, moments N·m, in the ground's frame, on a joint's second part."""

from __future__ import annotations

from collections.abc import Iterable
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
from assembly.record.values import Point, Settings

if TYPE_CHECKING:
    from assembly.model.load_case import LoadCase, Stop
    from assembly.model.machine import Machine
    from assembly.motion.ratings import RatingCheck
    from assembly.motion.reactions import Reaction
    from assembly.studies.loads import Carried, CarriedResult, CaseCarried

LoadWord = Literal["within", "exceeded", "open", "not rated"]
"""What ratings say: kept, passed, not to be told, or none is given."""
RatedWord = Literal["whole", "radial", "axial"]
WORST_FIRST: tuple[LoadWord, ...] = ("exceeded", "open", "within")
ON_FIXED = "on a fixed part, which carries it by itself"


@dataclass(frozen=True, slots=True)
class RatingEntry:
    """A rating of the builder's beside the force that it is for, None where that is open and only a least is known."""

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
    """A stop in place of its drive's effort; ``force_n`` and ``held`` are None where the load pulls away from it."""

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


def loads_record(carried: CarriedResult) -> LoadsRecord:
    """The record of load cases at one setting."""
    machine = carried.mechanism.machine
    cases = tuple(_case(machine, case) for case in carried.cases)
    first = carried.cases[0].held.loads
    return LoadsRecord(
        format=FORMAT,
        kind="loads",
        program=program_entry(),
        machine=machine_entry(machine),
        drives=drive_entries(machine),
        at=dict(zip(machine.drives, carried.at, strict=True)),
        verdict=worst_of(case.verdict for case in cases),
        cases=cases,
        near_toggles=tuple(ToggleEntry(near.parts, near.joints, near.share) for near in first.near_toggles),
        not_told=tuple(NotToldEntry(joint, reason) for joint, reason in first.not_told),
        not_rated=tuple(name for name in first.reactions if not machine.joints[name].ratings),
        assembled=moved_entries(carried.mechanism),
        findings=finding_entries(machine),
        unrolled=unrolled_parts(carried.mechanism),
    )


def worst_of(verdicts: Iterable[LoadWord]) -> LoadWord:
    """The worst of ``verdicts``; "not rated" where none judges."""
    found = set(verdicts)
    return next((word for word in WORST_FIRST if word in found), "not rated")


def rating_entry(check: RatingCheck) -> RatingEntry:
    """One rating beside its force."""
    rating = check.rating
    return RatingEntry(rating.of.value, rating.newtons, check.newtons, check.least, check.reserve, check.verdict.value)


def fixed_entries(machine: Machine, case: LoadCase) -> tuple[NotToldEntry, ...]:
    """Loads that no joint feels."""
    return tuple(NotToldEntry(part, ON_FIXED) for part in case.parts if machine.parts[part].fixed)


def _case(machine: Machine, case: CaseCarried) -> CaseEntry:
    held = _held(case.held)
    stop = None if case.case.stop is None else _stop(case.case.stop, case)
    stopped: LoadWord = "not rated" if stop is None or stop.held is None else stop.held.verdict
    pushes = len(case.case.forces) + len(case.case.moments) + len(case.case.weights)
    return CaseEntry(
        case.name, pushes, worst_of((held.verdict, stopped)), held, stop, fixed_entries(machine, case.case)
    )


def _stop(stop: Stop, case: CaseCarried) -> StopLoadEntry:
    if case.stopped is None:
        return StopLoadEntry(stop.striker, stop.struck, stop.drive, None, None)
    return StopLoadEntry(stop.striker, stop.struck, stop.drive, case.stop_newtons, _held(case.stopped))


def _held(carried: Carried) -> CarriedEntry:
    checks: dict[str, list[RatingCheck]] = {}
    for check in carried.checks:
        checks.setdefault(check.rating.joint, []).append(check)
    reactions = carried.loads.reactions
    unrated = sorted(
        (name for name in reactions if name not in checks), key=lambda name: -round(reactions[name].force.least, 6)
    )
    return CarriedEntry(
        worst_of(check.verdict.value for check in carried.checks),
        tuple(_joint(reactions[name], checks.get(name, [])) for name in (*checks, *unrated)),
        tuple(EffortEntry(effort.drive, effort.value, effort.unit) for effort in carried.loads.drive_efforts),
        tuple(RollEntry(roll.part, roll.newton_metres) for roll in carried.loads.rolls),
    )


def _joint(reaction: Reaction, checks: list[RatingCheck]) -> JointLoadEntry:
    joint, force, moment = reaction.joint, reaction.force, reaction.moment
    return JointLoadEntry(
        joint=joint.name,
        kind=joint.kind.value,
        first=joint.first,
        second=joint.second,
        at=reaction.at,
        force_n=force.size,
        force=_vector(force.known.tolist()) if force.unique else None,
        at_least_n=force.least,
        along_n=reaction.axial,
        across_n=reaction.radial,
        has_line=reaction.line is not None,
        moment_nm=moment.size,
        moment=_vector(moment.known.tolist()) if moment.unique else None,
        moment_at_least_nm=moment.least,
        force_open=tuple(map(_vector, force.open.tolist())),
        moment_open=tuple(map(_vector, moment.open.tolist())),
        note=reaction.note,
        ratings=tuple(map(rating_entry, checks)),
    )


def _vector(values: list[float]) -> Point:
    x, y, z = values
    return x, y, z
