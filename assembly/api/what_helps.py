"""What would help: the effect of every number on every figure, and numbers that give a pair the room it lacks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from assembly.api.answers import Wish, find_answers
from assembly.api.cores import all_cores
from assembly.api.main_check import SweepResult, sweep
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.errors import Fault, InputError
from assembly.kinematics.wheel_figures import names_to_ask
from assembly.model.fault_list import nearest, shown
from assembly.model.machine import Machine
from assembly.model.perturbed import Perturbations
from assembly.progress import Progress, no_progress
from assembly.record import FigureEntry, HelpRecord
from assembly.studies.sensitivity import SweptFigures, sensitivities
from assembly.studies.shared import drive_entries, machine_entry, program_entry

ANSWERS = 3
"""Answers that are looked for by default."""


def what_helps(
    machine: Machine,
    pair: tuple[str, str] | None = None,
    *,
    joint: str | None = None,
    measure: str | None = None,
    wanted: float | None = None,
    number: str | None = None,
    most: int = ANSWERS,
    cores: int | None = None,
    progress: Progress = no_progress,
    cached: bool = True,
) -> HelpRecord:
    """How much room every figure gains or loses with every number of the file, and single numbers that give it enough.

    The figures are the least clearance of each pair that is closed in on (mm), what joints keep of their limits and how
    far rods can roll (degrees or mm); the numbers are all dimensions, coordinates of named points and set lengths.

    Parameters
    ----------
    machine : Machine
        As ``load`` gives it.
    pair : tuple of str, optional
        The two parts that answers are looked for; by default the pair that fails worst, if any fails.
    joint : str, optional
        The joint that is asked about instead.
    measure : str, optional
        The measure, or figure of wheels, that is asked about instead.
    wanted : float, optional
        What the two are to be proven to keep, mm; by default what the file requires, where they do not keep it.
    number : str, optional
        A number of the file that must exist.
    most : int
        How many answers are looked for; each costs a sweep of the changed machine.
    cores : int, optional
        Processes that measure; by default all cores.
    progress : callable, optional
        Called with the stage, how much of it is done and how much there is.
    cached : bool
        Take what is known from the result cache.

    Returns
    -------
    HelpRecord
        ``figures``, the worst first, with a slope for every number they depend on, by the adjoint of the machine's
        rows; ``answers``, each of which was swept over the whole range.

    Raises
    ------
    InputError
        For a pair, a joint, a measure or a number that does not exist, or a machine that was not read from a file.
    AssemblyError
        If the machine cannot be put together at rest.
    KeyboardInterrupt
        If a sweep is stopped by hand.

    """
    parameters = Perturbations(machine).parameters
    _check_names(machine, [each.name for each in parameters], (joint, measure), number)
    effort = Effort(cores=cores or all_cores(), pairs=(pair,) if pair else ())
    swept = sweep(machine, effort=effort, progress=progress, cached=cached)
    if swept.stopped_by_hand:
        raise KeyboardInterrupt
    record = _help_record(swept, replace(_figures_of(swept, effort), asked=measure or ""), progress)
    numbers, figures = record.numbers, record.figures
    of_pair = [one for one in figures if one.kind == "pair"]
    names, figure = _asked(swept, figures if wanted is None else of_pair, pair, joint or measure)
    record, goal = replace(record, asked=names), wanted if wanted is not None else _lacking(figure)
    if figure is None or figure.kind != "pair" or goal is None or not figure.places:
        return record
    _check_wanted(figure, goal)
    if figure.keeps(goal):
        return replace(record, wanted_mm=goal)
    wish = Wish((figure.names[0], figure.names[1]), goal, most)
    answers, vain = find_answers(swept, figure, (numbers, parameters), wish, progress)
    return replace(record, wanted_mm=goal, answers=answers, no_answers=vain)


def help_for_first(swept: SweepResult, most: int, progress: Progress) -> HelpRecord:
    """The same of the ``most`` pairs with the least margin of a finished sweep alone, without answers.

    Raises InputError for a machine that was not read from a file, TimeLimitError.
    """
    every = _figures_of(swept, swept.checked.effort)
    few = _help_record(swept, replace(every, found=every.found[:most], joints=(), rods=(), measures=()), progress)
    return replace(few, figures=tuple(one for one in few.figures if one.kind == "pair"))


def _help_record(swept: SweepResult, figures_of: SweptFigures, progress: Progress) -> HelpRecord:
    machine = swept.checked.mechanism.machine
    numbers, figures = sensitivities(figures_of, progress)
    return HelpRecord(
        program=program_entry(),
        machine=machine_entry(machine),
        drives=drive_entries(machine),
        verdict=swept.record.verdict,
        reason=swept.record.reason,
        numbers=numbers,
        figures=figures,
    )


def _check_names(
    machine: Machine, numbers: Sequence[str], asked: tuple[str | None, str | None], number: str | None
) -> None:
    """InputError for a joint or a measure that is ``asked`` about, or a number, that does not exist."""
    joint, measure = asked
    if number is not None and number not in numbers:
        hint = nearest(number, numbers, "numbers")
        raise InputError(Fault(f"there is no dimension, point coordinate or set length {shown(number)}", hint=hint))
    if joint is not None and joint not in machine.joints:
        raise InputError(Fault(f"there is no joint {shown(joint)}", hint=nearest(joint, machine.joints, "joints")))
    measures = (*machine.measures, *names_to_ask(machine.running))
    if measure is not None and measure not in measures:
        hint = nearest(measure, measures, "measures")
        raise InputError(Fault(f"there is no measure {shown(measure)}", hint=hint))


def _figures_of(swept: SweepResult, effort: Effort) -> SweptFigures:
    checked, record = swept.checked, swept.record
    ready = checked.swept.collision_models
    told = record.joints, record.rods, record.measures
    return SweptFigures(checked.mechanism, checked.pairs, checked.found, *told, effort, ready)


def _asked(
    swept: SweepResult, figures: Sequence[FigureEntry], pair: tuple[str, str] | None, single: str | None
) -> tuple[tuple[str, ...], FigureEntry | None]:
    """Names of what is asked about, and its figure, if it has one: what is named, else the worst of all.

    InputError for a pair that is none.
    """
    if single is not None:
        of_one = (one for one in figures if one.kind in ("joint", "measure") and one.names == (single,))
        return (single,), next(of_one, None)
    if pair is None:
        first = next(iter(figures), None)
        return (first.names if first else ()), first
    entry = swept.pair(*pair)
    names = entry.a, entry.b
    return names, next((one for one in figures if one.kind == "pair" and one.names == names), None)


def _check_wanted(figure: FigureEntry, wanted: float) -> None:
    """InputError if less is wanted than the file requires: nothing that gives only that would be an answer."""
    if wanted < (figure.required or 0.0):
        names, required = " and ".join(map(shown, figure.names)), figure.required
        hint = f"ask for {required:g} mm or more, or change the rule in [clearance]"
        raise InputError(Fault(f"the file requires {required:g} mm of {names}", hint=hint))


def _lacking(figure: FigureEntry | None) -> float | None:
    """What a pair that does not keep its clearance should keep, mm; None if it does."""
    return figure.required if figure is not None and figure.verdict != "clear" else None
