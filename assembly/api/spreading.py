"""Tolerances: what they leave of every clearance, limit and measure, proven over the whole range."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from assembly.api.cores import all_cores
from assembly.api.main_check import SweepResult, sweep
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.proof.measure_search import measured
from assembly.clearance.tolerances.play_bounds import loose_joints
from assembly.clearance.tolerances.readings import tolerances_of
from assembly.clearance.tolerances.worst_case import WorstCase, limits_search, worst_case
from assembly.errors import Fault, InputError
from assembly.model.machine import Machine
from assembly.progress import Progress, no_progress
from assembly.record import Record, SpreadRecord, VerdictWord
from assembly.studies.sensitivity import SweptFigures, sensitivities
from assembly.studies.spread.made_anew import MadeAnew, sampled
from assembly.studies.spread.spread_record import SpreadFound, WorstFigures
from assembly.studies.sweep.joint_ranges import joints_of

MACHINES = 200
"""Random machines that are made by default."""
SEED = 1
NOT_HELD = "it is not held against tolerances"
EXAMPLE = (
    'write arm = { value = 58, plus_minus = 0.5 }, or [tolerances] with general = "m" for ISO 2768-1, or play = '
    "{ radial = 0.1 } in a joint"
)


def spread(
    machine: Machine,
    *,
    machines: int = MACHINES,
    seed: int = SEED,
    cores: int | None = None,
    progress: Progress = no_progress,
    cached: bool = True,
) -> SpreadRecord:
    """What the tolerances of the file's dimensions leave of every figure that has a rule.

    Parameters
    ----------
    machine : Machine
        As ``load`` gives it.
    machines : int
        Random machines that are made anew; 0 for none.
    seed : int
        Of the random numbers.
    cores : int, optional
        Processes that measure; by default all cores.
    progress : callable, optional
        Called with the stage, how much of it is done and how much there is.
    cached : bool
        Take what is known of the machine as drawn from the result cache.

    Returns
    -------
    SpreadRecord
        ``figures`` in mm and degrees, the least margin first: as drawn, proven at every setting whatever the dimensions
        are within their tolerances, by slopes, by root of the sum of squares, and over random machines.

    Raises
    ------
    InputError
        If no dimension has a tolerance, or the machine was not read from a file.
    AssemblyError
        If the machine cannot be put together at rest.
    KeyboardInterrupt
        If a sweep is stopped by hand.

    """
    require_tolerances(machine)
    swept = sweep(machine, effort=Effort(cores=cores or all_cores()), progress=progress, cached=cached)
    if swept.stopped_by_hand:
        raise KeyboardInterrupt
    return spread_of_sweep(swept, machines, seed, progress)


def require_tolerances(machine: Machine) -> None:
    """Raise InputError where no dimension has a tolerance and no joint play."""
    if not tolerances_of(machine) and not loose_joints(machine):
        told = "no dimension of the file has a tolerance, and no joint has play"
        raise InputError(Fault(told, file=machine.file, hint=EXAMPLE))


def spread_of_sweep(swept: SweepResult, machines: int, seed: int, progress: Progress) -> SpreadRecord:
    """The same of a machine that was swept; arguments as for ``spread``."""
    effort, tolerances = swept.checked.effort, tolerances_of(swept.checked.mechanism.machine)
    checked, record = swept.checked, swept.record
    told = record.joints, record.rods, record.measures
    own = SweptFigures(checked.mechanism, checked.pairs, checked.found, *told, effort, checked.swept.collision_models)
    _, figures = sensitivities(own, progress, {one.name for one in tolerances})
    worst = worst_figures(worst_case(checked.mechanism, checked.pairs, effort, progress))
    anew = MadeAnew(checked.mechanism.machine, figures, tolerances)
    found = SpreadFound(
        machine=checked.mechanism.machine,
        nominal=(record.verdict, record.reason),
        tolerances=tolerances,
        anew=anew,
        worst=worst,
        sampled=sampled(anew, machines, seed, progress) if machines else [None] * len(figures),
        machines=machines,
        seed=seed,
        others=tuple(_others(record, worst, {(one.kind, one.names) for one in figures})),
    )
    return found.record()


def worst_figures(worst: WorstCase) -> WorstFigures:
    """What is proven of joints, rods and measures as well."""
    if worst.built is None or worst.mechanism is None or worst.swept is None:
        return WorstFigures(worst)
    narrow = worst.narrow
    drawn = worst.built.drawn
    search = limits_search(drawn, worst.mechanism, worst.swept.groups)
    measures = {one.name: one for one in measured(worst.mechanism, search)}
    if narrow is not None and narrow is not worst.mechanism:
        search = limits_search(drawn, narrow)
    joints = joints_of(search.mechanism, search)
    return WorstFigures(worst, joints.joints, joints.rods, measures)


def _others(record: Record, worst: WorstFigures, told: set[tuple[str, tuple[str, ...]]]) -> Iterator[str]:
    """Rules that are no figures, because they are kept by far or no slopes are known, and that are not proven."""
    for pair, one in worst.worst.pairs.items():
        known = ("pair", (pair.a, pair.b)) in told
        if not known and (one.proven is None or one.proven < pair.required or one.proven <= 0):
            yield f"{pair.a} and {pair.b}: {one.why}"
    built, loose = worst.worst.built, worst.worst.loose is not None
    for name in dict.fromkeys(one.name for one in record.joints if one.verdict is not None):
        held = built is not None and name not in built.open_joints and worst.keeps_joint(name)
        if ("joint", (name,)) not in told and not held:
            yield f"{name}: {NOT_HELD}"
    for rod in record.rods:
        found = [one.verdict for one in worst.rods if set(rod.parts) <= set(one.parts)]
        if ("rod", rod.parts) not in told and (loose or not _clear(found)):
            yield f"{' with '.join(rod.parts)}: {NOT_HELD}"
    for measure in record.measures:
        if measure.verdict is None or ("measure", (measure.name,)) in told:
            continue
        kept = worst.measures.get(measure.name)
        if loose or built is None or kept is None or measure.name in built.open_measures or not _clear([kept.verdict]):
            yield f"{measure.name}: {NOT_HELD}"
    yield from (f"threads of {one.name}: {NOT_HELD}" for one in record.threads if one.verdict is not None)


def _clear(verdicts: Sequence[VerdictWord | None]) -> bool:
    return bool(verdicts) and all(one in (None, "clear") for one in verdicts)
