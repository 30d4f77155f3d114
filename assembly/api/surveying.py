"""What was measured on the real machine: the numbers that it has, and its sweep as it stands beside that as drawn."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from assembly.api.cores import all_cores
from assembly.api.main_check import sweep
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.errors import AssemblyError, Fault, InputError
from assembly.model.machine import Machine
from assembly.model.reader import machine_from_text
from assembly.progress import Progress, no_progress
from assembly.record import BuiltPairEntry, BuiltSweepEntry, PairEntry, Record, SurveyRecord, VerdictWord
from assembly.studies.survey.survey_record import GRAIN, Surveyed, surveyed

LEAST_SHIFT = 0.05
"""mm: a clearance that changes by less is told as the same."""
MOST_PAIRS = 12
MET = {"fails": 2, "undecided": 1, "clear": 0}


def fit_measured(
    machine: Machine,
    *,
    swept: bool = True,
    cores: int | None = None,
    progress: Progress = no_progress,
    cached: bool = True,
) -> Surveyed:
    """The numbers of the machine that was measured, fitted to the readings of its file by weighted least squares.

    Parameters
    ----------
    machine : Machine
        As ``load`` gives it, with ``[measured]`` tables.
    swept : bool
        Sweep it as drawn and as it stands, too.
    cores : int, optional
        Processes that sweep; by default all cores.
    progress : callable, optional
        Called with the stage, how much of it is done and how much there is.
    cached : bool
        Take what is known of pairs from the result cache.

    Returns
    -------
    Surveyed
        ``record``: readings, numbers ± their errors (as the readings' are meant), what to measure next, and both
        sweeps. ``fitted.text``: the file with the fitted numbers.

    Raises
    ------
    InputError
        If the file has no readings, or was not read from a file.
    AssemblyError
        If the machine cannot be put together at rest.
    KeyboardInterrupt
        If a sweep is stopped by hand.

    """
    progress("fit", 0, 0)
    found = surveyed(machine)
    built = built_machine(machine, found)
    if not swept:
        return found
    effort = Effort(cores=cores or all_cores())
    drawn = _swept(machine, effort, progress, cached=cached)
    if drawn is None:
        return replace(found, record=_judged(found.record, None))
    stands = drawn if not found.record.lines else _swept(built, effort, progress, cached=cached)
    return replace(found, record=_judged(found.record, _entry(drawn, stands)))


def built_machine(machine: Machine, found: Surveyed) -> Machine:
    """The machine of the fitted text. InputError where that does not say what was fitted."""
    if machine.origin is None or not found.record.lines:
        return machine
    built = machine_from_text(found.fitted.text, machine.origin.folder, machine.origin.source.name)
    says = {one.name: one.value for one in built.survey.uncertain}
    wrong = [
        one.name for one in found.record.numbers if abs(says.get(one.name, one.fitted + 1.0) - one.fitted) > 2 * GRAIN
    ]
    if wrong:
        told = f"the fitted value of {', '.join(wrong)} cannot be written into this file"
        raise InputError(Fault(told, file=machine.file, hint="write each marked number as one plain number of a table"))
    return built


def _swept(machine: Machine, effort: Effort, progress: Progress, *, cached: bool) -> Record | None:
    """The record of a sweep; None where the machine cannot be put together."""
    try:
        found = sweep(machine, effort=effort, progress=progress, cached=cached)
    except AssemblyError:
        return None
    if found.stopped_by_hand:
        raise KeyboardInterrupt
    return found.record


def _entry(drawn: Record, stands: Record | None) -> BuiltSweepEntry:
    if stands is None:
        reason = "with the fitted numbers the machine cannot be put together"
        return BuiltSweepEntry(drawn.verdict, drawn.reason, "fails", reason, ())
    pairs = sorted(_pairs(drawn, stands), key=_worst_first)
    return BuiltSweepEntry(drawn.verdict, drawn.reason, stands.verdict, stands.reason, tuple(pairs[:MOST_PAIRS]))


def _pairs(drawn: Record, stands: Record) -> Iterator[BuiltPairEntry]:
    """The pairs that are not as drawn."""
    before = {(one.a, one.b): one for one in drawn.pairs}
    for one in stands.pairs:
        old = before.get((one.a, one.b))
        if old is None:
            continue
        least = _least(old), _least(one)
        same = None in least or abs((least[0] or 0.0) - (least[1] or 0.0)) < LEAST_SHIFT
        if old.verdict != one.verdict or not same:
            yield BuiltPairEntry(one.a, one.b, one.required_mm, *least, dict(one.at), old.verdict, one.verdict)


def _least(pair: PairEntry) -> float | None:
    """The least clearance, an overlap by its depth below 0; None where it was not closed in on."""
    if pair.overlap is not None:
        return -pair.overlap.depth_mm
    return pair.least_mm if pair.closed_in or pair.verdict == "fails" else None


def _worst_first(one: BuiltPairEntry) -> tuple[float, float]:
    return -MET[one.built_verdict], (one.built if one.built is not None else 0.0) - one.required


def _judged(record: SurveyRecord, swept: BuiltSweepEntry | None) -> SurveyRecord:
    """The record with the verdict of both: clear only where all is known and clear."""
    if swept is None:
        return replace(record, verdict="fails", reason="the machine as drawn cannot be put together")
    verdict: VerdictWord = "clear"
    reason = f"as it stands: {swept.built_reason}"
    if swept.built_verdict == "fails":
        verdict = "fails"
    elif record.verdict != "clear":
        verdict, reason = "undecided", record.reason
    else:
        verdict = swept.built_verdict
    return replace(record, verdict=verdict, reason=reason, swept=swept)
