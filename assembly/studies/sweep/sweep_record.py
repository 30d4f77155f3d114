"""The result of a sweep as its record: every pair by names and figures, and the verdict on the machine."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from math import isfinite
from types import MappingProxyType

import numpy as np

from assembly.clearance.cures.range_cure import SmallerRange
from assembly.clearance.narrow_phase.pair_result import ErrorBudget, Region, Setting
from assembly.clearance.proof.cached import PairFound
from assembly.geometry.mesh import Mesh
from assembly.kinematics.mechanism import settings_of
from assembly.model.machine import Machine
from assembly.model.rod_entries import threaded_rod_entry
from assembly.record import (
    FORMAT,
    LEAST_MISS,
    Contact,
    CureEntry,
    DriveEntry,
    EstimateEntry,
    FindingEntry,
    MeasureEntry,
    PairEntry,
    Record,
    RegionCell,
    RegionEntry,
    SolidEntry,
    TermsEntry,
    TravelStopEntry,
    UnreachableEntry,
    WorkEntry,
)
from assembly.studies.shared import (
    drive_entries,
    finite,
    freedom_entries,
    machine_entry,
    overlap_entry,
    point,
    program_entry,
)
from assembly.studies.sweep.check import CheckResult
from assembly.studies.sweep.joint_ranges import JointsFound
from assembly.studies.sweep.verdict import machine_verdict


def pair_entry(
    found: PairFound,
    checked: CheckResult,
    cures: Mapping[tuple[str, str], CureEntry],
    smaller: Mapping[tuple[str, str], SmallerRange],
) -> PairEntry:
    """One pair by names; a bound that is not finite is none."""
    result, witness = found.result, found.witness
    pair, machine = result.pair, checked.mechanism.machine
    return PairEntry(
        a=pair.a,
        b=pair.b,
        shape_a=witness.shape_a if witness else "",
        shape_b=witness.shape_b if witness else "",
        required_mm=pair.required,
        least_mm=finite(result.least),
        proven_mm=result.proven,
        at={} if result.told_of_range else settings_of(machine, result.at, result.rolls),
        point_a=witness.point_a if witness else None,
        point_b=witness.point_b if witness else None,
        verdict=result.verdict.value,
        why=result.why,
        overlap=overlap_entry(machine, result.overlap, result.rolls),
        gap_seat=pair.seat or None,
        surface_error_mm=result.surface_error,
        swallowed=result.contained,
        terms=_terms(machine, result.error_budget, result.rolls),
        region=_region(machine, result.region, result.rolls),
        first_contacts=tuple(
            Contact(contact.drive, contact.direction, settings_of(machine, contact.at, result.rolls))
            for contact in result.first_contacts
        ),
        estimated=_estimated(machine, (pair.a, pair.b)),
        cure=cures.get((pair.a, pair.b)),
        closed_in=result.closed_in,
        asked=checked.effort.asks_for(pair),
        clear_within=_clear_within(machine, smaller.get((pair.a, pair.b))),
    )


def _estimated(machine: Machine, names: Sequence[str]) -> tuple[EstimateEntry, ...]:
    shapes = [(name, shape.estimated) for name in names for shape in machine.parts[name].shapes]
    return tuple(EstimateEntry(name, one.file, one.error) for name, one in shapes if one is not None)


def _clear_within(machine: Machine, smaller: SmallerRange | None) -> dict[str, DriveEntry]:
    if smaller is None:
        return {}
    return {smaller.drive: DriveEntry(smaller.low, smaller.high, machine.drives[smaller.drive].unit)}


def _terms(machine: Machine, terms: ErrorBudget | None, rolls: Sequence[str]) -> TermsEntry | None:
    if terms is None or not isfinite(terms.displacement):
        return None
    return TermsEntry(
        at=settings_of(machine, terms.at, rolls),
        half=settings_of(machine, terms.half, rolls),
        distance=terms.distance,
        travel=terms.displacement,
        residual=terms.residual,
        surface_error=terms.surface_error,
        query_tolerance=terms.query_tolerance,
        rounding=terms.rounding,
        method=terms.method,
    )


def _region(machine: Machine, region: Region | None, rolls: Sequence[str]) -> RegionEntry | None:
    def cell(box: tuple[Setting, Setting]) -> RegionCell:
        centre, half = box
        return RegionCell(settings_of(machine, centre, rolls), settings_of(machine, half, rolls))

    return None if region is None else RegionEntry(region.share, tuple(map(cell, region.cells)))


LEAST_SHOWN = 0.01
"""mm: a loop's miss below this is reported by its first digit, not as 0.00."""


def sweep_record(
    checked: CheckResult,
    joints: JointsFound,
    measures: tuple[MeasureEntry, ...] = (),
    cures: Mapping[tuple[str, str], CureEntry] = MappingProxyType({}),
    smaller: Mapping[tuple[str, str], SmallerRange] = MappingProxyType({}),
    constant: Collection[tuple[str, str]] = (),
    stopped: str = "",
) -> Record:
    """The record of one sweep, made now; ``cures`` and ``smaller`` ranges by names of failing pairs.

    ``constant``: the names of pairs that are as far apart at every setting.
    ``stopped``: why what comes after the pairs ended early.
    """
    machine, swept = checked.mechanism.machine, checked.swept
    pairs = _pairs((pair_entry(found, checked, cures, smaller) for found in checked.found), constant)
    lost, both = tuple(map(_with_message, swept.unreachable)), (joints.joints, joints.rods)
    threads, loose = tuple(map(threaded_rod_entry, machine.rods.values())), _loose(machine)
    verdict, reason = machine_verdict(pairs, both, lost, swept.unreachable_share, joints.stopped, measures, threads)
    return Record(
        format=FORMAT,
        program=program_entry(),
        machine=machine_entry(machine),
        made=datetime.now(UTC).isoformat(timespec="seconds"),
        drives=drive_entries(machine),
        verdict=verdict,
        reason=reason,
        pairs=pairs,
        not_checked=checked.pairs.not_checked,
        joints=joints.joints,
        first_out=joints.first_out,
        rods=joints.rods,
        freedoms=freedom_entries(checked.mechanism, joints.rolls, checked.rolls),
        unreachable=lost,
        unreachable_share=swept.unreachable_share,
        assembled=checked.mechanism.shifts(),
        findings=machine.findings + _notes(joints),
        measures=measures,
        stops=_stops(machine),
        work=_work(checked, joints.settings, stopped or joints.stopped),
        dimensions=dict(machine.dimensions),
        parts={name: _solid(part.mesh) for name, part in machine.parts.items()},
        threads=threads,
        loose=loose,
    )


def _pairs(every: Iterable[PairEntry], constant: Collection[tuple[str, str]]) -> tuple[PairEntry, ...]:
    """The worst first; those that are ``constant`` say so."""
    return tuple(sorted((replace(one, constant=(one.a, one.b) in constant) for one in every), key=_worst_first))


def _loose(machine: Machine) -> tuple[str, ...]:
    return tuple(joint.name for joint in machine.joints.values() if joint.is_loose)


def _notes(joints: JointsFound) -> tuple[FindingEntry, ...]:
    return tuple(FindingEntry("note", f"joints.{name}", reason) for name, reason in joints.not_measured)


def _worst_first(pair: PairEntry) -> tuple[bool, float]:
    return pair.sure_room_mm is None, pair.sure_room_mm or 0.0


def _solid(mesh: Mesh) -> SolidEntry:
    return SolidEntry(len(mesh.faces), point(np.ptp(mesh.vertices, axis=0)))


def _stops(machine: Machine) -> tuple[TravelStopEntry, ...]:
    return tuple(
        TravelStopEntry(stop.name, stop.drive, stop.side.value, stop.height, stop.carrier, stop.other)
        for stop in machine.stops.values()
    )


def _with_message(lost: UnreachableEntry) -> UnreachableEntry:
    if lost.miss_mm > LEAST_MISS:
        miss = f"{lost.miss_mm:z.2f}" if lost.miss_mm >= LEAST_SHOWN else f"{lost.miss_mm:.1g}"
        message = f"it locks, folds over or cannot be assembled here: the loop misses by {miss} mm"
    elif lost.held_twice and not lost.near_singular:
        miss = f"; it misses by {lost.miss_mm:.1g} mm" if lost.miss_mm > 0 else ""
        message = (
            f"this loop is held by more than it needs, and that all its joints go together here is not proven{miss}"
        )
    elif lost.missed:
        message = "a change point lies on the way here: the links line up and could go on in two ways"
    elif lost.near_singular:
        message = (
            "a change point is here or on the way here: the links could go on in two ways, and which is not proven"
        )
    else:
        message = "it goes together here, but how it moves round here could not be proven"
    return replace(lost, message=message)


def _work(checked: CheckResult, joint_settings: int, stopped: str) -> WorkEntry:
    work, effort = checked.swept.work, checked.effort
    return WorkEntry(
        poses=work.poses,
        distance_queries=work.queries,
        query_seconds=round(work.query_seconds, 3),
        cells=work.cells,
        seconds=checked.seconds,
        cores=effort.cores,
        triangles=sum(len(part.mesh.faces) for part in checked.mechanism.machine.parts.values()),
        bracket_mm=effort.bracket_mm,
        bracket_share=effort.bracket_share,
        budget_s=effort.budget_s,
        stopped=checked.swept.stopped or stopped,
        joint_settings=joint_settings,
        interest_mm=effort.interest_mm,
        recalled=work.recalled,
    )
