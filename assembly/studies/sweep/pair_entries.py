"""One pair of a sweep by names and figures, with what would cure it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import isfinite

from assembly.clearance.cures.range_cure import SmallerRange
from assembly.clearance.narrow_phase.pair_result import ErrorBudget, Region, Setting
from assembly.clearance.proof.cached import PairFound
from assembly.kinematics.mechanism import settings_of
from assembly.model.machine import Machine
from assembly.record import (
    Contact,
    CureEntry,
    DriveEntry,
    EstimateEntry,
    PairEntry,
    RegionCell,
    RegionEntry,
    TermsEntry,
)
from assembly.studies.shared import finite, overlap_entry
from assembly.studies.sweep.check import CheckResult


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
        at=settings_of(machine, result.at, result.rolls),
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
