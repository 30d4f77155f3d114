"""Prototype checks: what to measure to see soonest whether the machine is as drawn, and whether readings agree."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from assembly.api.cores import all_cores
from assembly.api.main_check import sweep
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.errors import Fault, InputError
from assembly.model.fault_list import nearest, shown
from assembly.model.machine import Machine
from assembly.progress import Progress, no_progress
from assembly.record import FORMAT, ChecksRecord, PrototypeCheckEntry, VerdictWord
from assembly.studies.sensitivity import SweptFigures, sensitivities
from assembly.studies.shared import drive_entries, machine_entry, program_entry
from assembly.studies.survey.prototype_checks import ReadingErrors, prototype_checks

DISTANCE_ERROR, ANGLE_ERROR = 1.0, 0.5
"""mm of a tape, degrees of a protractor or level."""


def checks(
    machine: Machine,
    *,
    readings: Mapping[str, float] | None = None,
    distance_error: float = DISTANCE_ERROR,
    angle_error: float = ANGLE_ERROR,
    cores: int | None = None,
    progress: Progress = no_progress,
    cached: bool = True,
) -> ChecksRecord:
    """The five numbers to measure on the machine that would show soonest that it is not the one that was swept.

    Parameters
    ----------
    machine : Machine
        As ``load`` gives it.
    readings : mapping of str to float, optional
        What was read, by the name of a check, in its unit.
    distance_error : float
        What distances are off by in 19 of 20 cases, in mm.
    angle_error : float
        The same of angles, in degrees.
    cores : int, optional
        Processes that sweep; by default all cores.
    progress : callable, optional
        Called with the stage, how much of it is done and how much there is.
    cached : bool
        Take what is known of pairs from the result cache.

    Returns
    -------
    ChecksRecord
        ``checks`` with what each is expected to be ± what, and ``answer`` to each reading.

    Raises
    ------
    InputError
        If a reading is of no check, or the machine was not read from a file.
    AssemblyError
        If the machine cannot be put together at rest.
    KeyboardInterrupt
        If the sweep is stopped by hand.

    """
    swept = sweep(machine, effort=Effort(cores=cores or all_cores()), progress=progress, cached=cached)
    if swept.stopped_by_hand:
        raise KeyboardInterrupt
    checked, record = swept.checked, swept.record
    told = record.joints, record.rods, record.measures
    own = SweptFigures(
        checked.mechanism, checked.pairs, checked.found, *told, checked.effort, checked.swept.collision_models
    )
    _, figures = sensitivities(own, progress)
    progress("what to measure", 0, 0)
    found = prototype_checks(checked.mechanism.machine, record, figures, ReadingErrors(distance_error, angle_error))
    answered = tuple(_answered(one, readings or {}) for one in found)
    unknown = [name for name in readings or {} if name not in {one.name for one in found}]
    if unknown:
        names = [one.name for one in found]
        faults = (Fault(f"there is no check {shown(name)}", hint=nearest(name, names, "checks")) for name in unknown)
        raise InputError(*faults)
    verdict, reason = _judged(answered)
    return ChecksRecord(
        format=FORMAT,
        kind="checks",
        program=program_entry(),
        machine=machine_entry(machine),
        drives=drive_entries(machine),
        verdict=verdict,
        reason=reason,
        swept=record.verdict,
        checks=answered,
    )


def _answered(one: PrototypeCheckEntry, readings: Mapping[str, float]) -> PrototypeCheckEntry:
    reading = readings.get(one.name)
    if reading is None:
        return one
    agrees = abs(reading - one.expected) <= one.plus_minus
    return replace(one, reading=reading, answer="agrees" if agrees else "look again")


def _judged(every: tuple[PrototypeCheckEntry, ...]) -> tuple[VerdictWord, str]:
    off = [one.name for one in every if one.answer == "look again"]
    if off:
        return "fails", f"{', '.join(off)} is not as the model has it: look again"
    given = sum(one.answer is not None for one in every)
    if not given:
        return "clear", "no reading is given yet"
    return "clear", f"{given} of {len(every)} readings are given, and agree with the model"
