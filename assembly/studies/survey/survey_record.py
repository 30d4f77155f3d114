"""The record of what was measured: the fit, what contradicts it, what is not known, and what to measure next."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import isfinite

import numpy as np

from assembly.errors import Fault, InputError
from assembly.model.fitted_text import DIGITS, FittedText, fitted_text
from assembly.model.machine import Machine
from assembly.record import FORMAT, FittedEntry, KnownWord, ObservationEntry, SurveyRecord, VerdictWord
from assembly.studies.shared import drive_entries, finite, machine_entry, program_entry
from assembly.studies.survey.adjustment import AT_END, Adjustment
from assembly.studies.survey.contradictions import Contradictions, contradictions, said_by_others, scores
from assembly.studies.survey.next_reading import next_readings
from assembly.studies.survey.observed import ObservedMachine
from assembly.studies.survey.two_sides import two_sides

EXAMPLE = (
    'write one, such as [measured.NAME] with `distance = [{ on = "PART", at = "p" }, { on = "PART", at = "q" }]`, '
    "`reading = 231.4` and `plus_minus = 0.5`"
)
BARELY = 0.5
"""A number that is known no better than this share of what it may differ by is barely known."""
GRAIN = 0.5 * 10.0**-DIGITS


@dataclass(frozen=True, slots=True, eq=False)
class Surveyed:
    """The record, and the text of the file with the fitted numbers."""

    record: SurveyRecord
    fitted: FittedText


def surveyed(machine: Machine) -> Surveyed:
    """What the readings of ``machine`` say of it.

    Raises InputError where it has none, AssemblyError where it cannot be put together.
    """
    if not machine.survey.observations:
        raise InputError(Fault("the file has no readings", file=machine.file, hint=EXAMPLE))
    observed = ObservedMachine(machine)
    found = contradictions(observed)
    solution = found.solution
    changed = {
        one: float(number)
        for one, number in zip(observed.uncertain, solution.numbers, strict=True)
        if abs(number - one.value) > GRAIN
    }
    fitted = fitted_text(machine, changed)
    numbers = tuple(_numbers(observed, solution))
    verdict, reason = _judged(observed, found, numbers)
    record = SurveyRecord(
        format=FORMAT,
        kind="measured",
        program=program_entry(),
        machine=machine_entry(machine),
        drives=drive_entries(machine),
        verdict=verdict,
        reason=reason,
        readings=tuple(_readings(observed, found)),
        numbers=numbers,
        rank=solution.rank,
        agrees=solution.agrees,
        checked=solution.spare,
        next=next_readings(observed, solution),
        sides=two_sides(observed, solution),
        lines=dict(fitted.lines),
    )
    return Surveyed(record, fitted)


def _readings(observed: ObservedMachine, found: Contradictions) -> Iterator[ObservationEntry]:
    solution = found.solution
    drawn, far = observed.values(observed.drawn), scores(solution)
    others, error = said_by_others(solution, observed.errors, observed.readings)
    body_of = observed.made(solution.numbers).bodies.body_of
    for k, one in enumerate(observed.observations):
        bodies = {body_of.get(each.part, 0) for each in one.measure.features}
        yield ObservationEntry(
            name=one.name,
            kind=one.measure.kind.value,
            unit=one.measure.unit,
            between=tuple(each.words for each in one.measure.features),
            at=dict(one.at),
            reading=one.reading,
            plus_minus=one.plus_minus,
            drawn=float(drawn[k]),
            fitted=float(solution.values[k]),
            others=finite(float(others[k])),
            others_plus_minus=finite(float(error[k])),
            deviations=finite(float(far[k])),
            left_out=k in found.wrong,
            doubtful=k in found.doubtful,
            moved=bool(np.abs(solution.scaled[k]).max(initial=0.0) > 1e-6),
            rigid=len(bodies) == 1,
            line=one.line,
        )


def _numbers(observed: ObservedMachine, solution: Adjustment) -> Iterator[FittedEntry]:
    groups = {k: group for group in solution.together for k in group}
    seen = np.abs(solution.scaled[solution.used]).max(axis=0, initial=0.0)
    for k, one in enumerate(observed.uncertain):
        error, group = float(solution.errors[k]), groups.get(k, ())
        known = _known(error / one.may_differ, len(group), seen=seen[k] > 1e-6)
        yield FittedEntry(
            name=one.name,
            drawn=one.value,
            fitted=float(solution.numbers[k]),
            plus_minus=error if isfinite(error) else None,
            may_differ=one.may_differ,
            known=known,
            others=tuple(observed.uncertain[other].name for other in group if other != k),
            at_limit=abs(float(solution.change[k])) >= AT_END,
            line=one.line,
        )


def _known(share: float, group: int, *, seen: bool) -> KnownWord:
    if group and not (seen and group > 1):
        return "unseen"
    if group:
        return "together"
    return "known" if share <= BARELY else "barely"


def _judged(
    observed: ObservedMachine, found: Contradictions, numbers: tuple[FittedEntry, ...]
) -> tuple[VerdictWord, str]:
    """What the readings alone say: "clear" where they agree and know every number."""
    names = [one.name for one in observed.observations]
    open_ones = [one.name for one in numbers if one.known in ("together", "unseen")]
    if found.doubtful:
        listed = ", ".join(names[k] for k in found.doubtful)
        return "undecided", f"the readings {listed} contradict each other, and which is wrong cannot be told"
    if found.wrong:
        listed = ", ".join(names[k] for k in found.wrong)
        if not numbers:
            return "undecided", f"{listed} is not as drawn, and the file marks nothing that may differ"
        return "undecided", f"{listed} contradicts the other readings and is left out: read it again"
    if not found.solution.agrees:
        return "undecided", "the readings are farther from each other than their errors let expect"
    if open_ones:
        return "undecided", f"the readings do not tell {', '.join(open_ones)}"
    if any(one.at_limit for one in numbers):
        ends = ", ".join(one.name for one in numbers if one.at_limit)
        return "undecided", f"{ends} is as far off as the file lets it be"
    return "clear", "the readings agree and tell every number that may differ"
