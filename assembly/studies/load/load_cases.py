"""Static load cases at one setting: the reaction in every joint, the effort of every drive, and what ratings say.

Equilibrium alone answers; nothing bends. Where a machine is held more than once, equilibrium does not settle how the
joints share the load: such parts of a reaction are left open, never guessed. Ratings are the builder's own numbers.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from assembly.errors import Fault, InputError
from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import unit
from assembly.kinematics.assembling import assemble
from assembly.kinematics.at_setting import checked_settings, posture_at
from assembly.kinematics.mechanism import Mechanism, settings_of
from assembly.kinematics.roll_columns import rolled_parts
from assembly.model.fault_list import nearest, shown
from assembly.model.load_case import LoadCase, Stop, check_parts, chosen_cases
from assembly.model.machine import Machine
from assembly.model.quantities import require_positive
from assembly.record import (
    FORMAT,
    CarriedEntry,
    CaseEntry,
    EffortEntry,
    JointLoadEntry,
    LoadsRecord,
    LoadWord,
    NotToldEntry,
    RollEntry,
    StopLoadEntry,
    ToggleEntry,
)
from assembly.statics.multipliers import NEAR_TOGGLE, Statics, find_slack, statics_at
from assembly.statics.ratings import RatingCheck, check_ratings, ratings_of
from assembly.statics.reactions import (
    Reaction,
    drive_efforts,
    joints_holding,
    load_of,
    push_between,
    reactions,
    rolls,
)
from assembly.studies.load.judging import fixed_entries, rating_entry, worst_of
from assembly.studies.shared import (
    drive_entries,
    machine_entry,
    point,
    program_entry,
)


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


NO_EFFECT = 1e-9
"""N·mm or N per newton: a stop that changes its drive's effort by less does not act on it."""


@dataclass(frozen=True, slots=True, eq=False)
class CarriedResult:
    """Load cases at one setting as their record, and as reactions."""

    record: LoadsRecord
    cases: tuple[CaseCarried, ...]


def carried(machine: Machine, settings: Mapping[str, float], names: Iterable[str] = ()) -> CarriedResult:
    """What the load cases of ``names``, or all of the file, ask of joints and drives; drives not named stay at 0.

    Raises InputError for a drive, setting or load case that is none and for a stop that does not act on its drive,
    AssemblyError if the machine cannot be put together or stands at a dead centre.
    """
    cases, at = chosen_cases(machine.loads, names), checked_settings(machine, settings)
    mechanism = assemble(machine)
    statics = statics_at(mechanism, posture_at(mechanism, at))
    found = tuple(_carry(statics, name, case) for name, case in cases.items())
    return CarriedResult(_record(mechanism, at, found), found)


def _record(mechanism: Mechanism, at: tuple[float, ...], carried_cases: tuple[CaseCarried, ...]) -> LoadsRecord:
    machine, first = mechanism.machine, carried_cases[0].held.loads
    cases = tuple(case_entry(machine, case) for case in carried_cases)
    return LoadsRecord(
        format=FORMAT,
        kind="loads",
        program=program_entry(),
        machine=machine_entry(machine),
        drives=drive_entries(machine),
        at=settings_of(machine, at),
        verdict=worst_of(case.verdict for case in cases),
        cases=cases,
        near_toggles=first.near_toggles,
        not_told=first.not_told,
        not_rated=tuple(name for name in first.reactions if not machine.joints[name].ratings),
        assembled=mechanism.shifts(),
        findings=machine.findings,
        unrolled=rolled_parts(mechanism),
    )


def _carry(statics: Statics, name: str, case: LoadCase) -> CaseCarried:
    check_parts(statics.mechanism.machine.parts, case.parts, "a load names")
    load = load_of(statics, case)
    held = _rated(statics, load)
    if case.stop is None:
        return CaseCarried(name, case, held, None, None)
    newtons, per_newton = _stop_force(statics, load, case.stop)
    stopped = _rated(statics, load + newtons * per_newton) if newtons >= 0 else None
    return CaseCarried(name, case, held, stopped, newtons)


def _rated(statics: Statics, load: Floats) -> Carried:
    loads = _loads(statics, load)
    return Carried(loads, check_ratings(loads.reactions, ratings_of(statics.mechanism.machine)))


def _stop_force(statics: Statics, load: Floats, stop: Stop) -> tuple[float, Floats]:
    """The force in N that lets the stop's drive go, below zero where it would have to pull, and the load of one N."""
    drive = _checked_drive(statics.mechanism, stop)
    world_from_rest = statics.mechanism.world_from_rest(statics.posture, stop.face or stop.struck)[0]
    push = world_from_rest[:3, :3] @ unit(stop.push)
    per_newton = push_between(statics, stop.striker, stop.struck, stop.at, push)
    wanted, given = (float(_per_setting(statics, each)[drive]) for each in (load, per_newton))
    if abs(given) < NO_EFFECT:
        hint = "let it push square to a lever about the drive's joint, and against a part that stands still"
        raise InputError(Fault(f"the stop does not act on drive {shown(stop.drive)}", hint=hint))
    return -wanted / given + 0.0, per_newton


def _checked_drive(mechanism: Mechanism, stop: Stop) -> int:
    """Number of the drive that ``stop`` holds."""
    machine = mechanism.machine
    check_parts(machine.parts, (stop.striker, stop.struck), "the stop names")
    require_positive(("the length of the stop's direction", float(np.linalg.norm(stop.push)), ""))
    if stop.drive not in machine.drives:
        hint = nearest(stop.drive, machine.drives, "drives")
        raise InputError(Fault(f"there is no drive {shown(stop.drive)}", hint=hint))
    return list(machine.drives).index(stop.drive)


def _per_setting(statics: Statics, load: Floats) -> list[float]:
    return [effort.value for effort in drive_efforts(statics, statics.multipliers(load))]


def _loads(statics: Statics, load: Floats) -> Loads:
    multipliers, mechanism = statics.multipliers(load), statics.mechanism
    near = tuple(
        ToggleEntry(
            tuple(mechanism.bodies.label(body) for body in slack.bodies),
            joints_holding(statics, slack.bodies),
            slack.share,
        )
        for slack in find_slack(statics, NEAR_TOGGLE)
    )
    welded = [joint.name for joint in mechanism.machine.joints.values() if not joint.kind.has_freedom]
    return Loads(
        reactions(statics, multipliers),
        drive_efforts(statics, multipliers),
        tuple(rolls(statics, multipliers, load)),
        near,
        tuple(
            NotToldEntry(name, "welded or bolted parts are one body here; nothing between them is told")
            for name in welded
        ),
    )
