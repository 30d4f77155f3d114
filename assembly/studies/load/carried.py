"""What holds a machine under one load case, and as entries of the record."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from assembly.model.load_case import LoadCase, Stop
from assembly.model.machine import Machine
from assembly.record import (
    CarriedEntry,
    CaseEntry,
    EffortEntry,
    JointLoadEntry,
    LoadWord,
    NotToldEntry,
    RollEntry,
    StopLoadEntry,
    ToggleEntry,
)
from assembly.statics.ratings import RatingCheck
from assembly.statics.reactions import Reaction
from assembly.studies.load.judging import fixed_entries, rating_entry, worst_of
from assembly.studies.shared import point


@dataclass(frozen=True, slots=True, eq=False)
class Loads:
    """Everything that holds the machine under one load case at one posture."""

    reactions: Mapping[str, Reaction]
    drive_efforts: tuple[EffortEntry, ...]
    rolls: tuple[RollEntry, ...]
    near_toggles: tuple[ToggleEntry, ...]
    not_told: tuple[NotToldEntry, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Carried:
    """What holds the machine, and how the rated joints bear it, worst first."""

    loads: Loads
    checks: tuple[RatingCheck, ...]


@dataclass(frozen=True, slots=True, eq=False)
class CaseCarried:
    """One load case with its drives held, and, where it has a stop, with that instead of its drive's effort.

    ``stop_newtons`` is below zero where the load pulls the striker away; nothing is reported of the machine then.
    """

    name: str
    case: LoadCase
    held: Carried
    stopped: Carried | None
    stop_newtons: float | None


def case_entry(machine: Machine, case: CaseCarried) -> CaseEntry:
    """One load case; its verdict is the worse of those with all drives held and with its stop."""
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
        carried.loads.drive_efforts,
        carried.loads.rolls,
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
        force=point(force.known.tolist()) if force.unique else None,
        at_least_n=force.least,
        along_n=reaction.axial,
        across_n=reaction.radial,
        has_line=reaction.line is not None,
        moment_nm=moment.size,
        moment=point(moment.known.tolist()) if moment.unique else None,
        moment_at_least_nm=moment.least,
        force_open=tuple(map(point, force.open.tolist())),
        moment_open=tuple(map(point, moment.open.tolist())),
        note=reaction.note,
        ratings=tuple(map(rating_entry, checks)),
    )
