"""The whole sweep of a machine: pairs, joints and rods, what would cure what fails, and the record of it all.

Cures are sought for the worst failing pairs; each was swept over the whole range before it is reported.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import replace

from assembly.clearance.cures.range_cure import SmallerRange, smaller_range
from assembly.clearance.cures.seat_cure import seat_cure
from assembly.clearance.cures.shape_cure import shape_cure
from assembly.clearance.narrow_phase.checked_pairs import Pairs
from assembly.clearance.narrow_phase.pair_result import Effort, Verdict
from assembly.clearance.proof.cached import FiguresCache, PairFound, ResultCache
from assembly.clearance.proof.cell_groups import CellGroups
from assembly.errors import TimeLimitError
from assembly.geometry.mass_properties import volume_and_centre
from assembly.model.machine import Machine
from assembly.model.masses import weight_entry
from assembly.progress import Progress
from assembly.record import CureEntry, Record
from assembly.studies.sweep.check import CheckResult, check
from assembly.studies.sweep.constant_pairs import constant_pairs
from assembly.studies.sweep.known_motions import motions_found
from assembly.studies.sweep.known_volumes import KnownVolumes
from assembly.studies.sweep.sweep_record import sweep_record
from assembly.time_limit import extra_time, time_limit

MOST_CURED = 3
"""Failing pairs for which a cure is sought; the next run looks at what is left."""

MOST_SWEPT = 6
"""Smaller ranges that are swept in all."""

Names = tuple[str, str]


def cures(groups: CellGroups, pairs: Pairs, found: Sequence[PairFound]) -> Iterator[tuple[Names, CureEntry]]:
    """The names of pairs and their cures, from the cells of the sweep; ``found`` in the order of room, the worst first.

    Raises TimeLimitError, as ``smaller_ranges`` does: what was given by then holds.
    """
    every = [one.result for one in found]
    for one in [one for one in found if one.result.verdict is Verdict.FAILS][:MOST_CURED]:
        failing, pair = one.result, one.result.pair
        solids = pairs.solids[pair.trim_a], pairs.solids[pair.trim_b]
        cure: CureEntry | None = seat_cure(groups, pair, *solids) if failing.overlap is not None else None
        if cure is None and one.witness is not None and not (pair.rigidly_coupled or failing.rolls):
            cure = shape_cure(groups, failing, (one.witness.shape_a, one.witness.shape_b), solids, every)
        if cure is not None:
            yield (pair.a, pair.b), cure


def smaller_ranges(machine: Machine, found: Sequence[PairFound]) -> Iterator[tuple[Names, SmallerRange]]:
    """The names of pairs and the smaller range of one drive in which each is proven clear; ``found`` worst first."""
    left = MOST_SWEPT
    failing = [
        one.result for one in found if one.result.verdict is Verdict.FAILS and not one.result.pair.rigidly_coupled
    ]
    for result in failing[:MOST_CURED]:
        tried = smaller_range(machine, result, left)
        left -= tried.swept if tried is not None else 0
        if tried is not None and tried.proven:
            yield (result.pair.a, result.pair.b), tried


def sweep_machine(
    machine: Machine,
    effort: Effort,
    progress: Progress,
    memory: ResultCache | None = None,
    *,
    advise: bool = True,
    known: FiguresCache | None = None,
) -> tuple[CheckResult, Record]:
    """Sweep ``machine``, and the record of it; arguments and errors as for ``check``.

    ``advise``: look for what would cure what fails, and tell figures of wheels that nothing limits; both change no
    other figure. ``known``: what is known of all but pairs, and where what is found of it is kept.

    All of it together ends with the time that ``effort`` allows, with what is known by then.
    """
    with time_limit(effort.budget_s):
        checked = check(machine, effort, progress, memory=memory, figures=known)
        mechanism, swept = checked.mechanism, checked.swept
        progress("joints", 0, 0)
        with extra_time():
            joints, measures = motions_found(mechanism, swept.groups, known, judged_only=not advise)
        if swept.stopped or not advise:
            return checked, _weighed(sweep_record(checked, joints, measures), mechanism.machine, known)
        progress("cures", 0, 0)
        constant: frozenset[Names] = frozenset()
        cured: dict[tuple[str, str], CureEntry] = {}
        smaller: dict[tuple[str, str], SmallerRange] = {}
        stopped = ""
        with suppress(TimeLimitError):
            constant = constant_pairs(checked, known)
        try:
            cured.update(cures(swept.groups, checked.pairs, checked.found))
            smaller.update(smaller_ranges(mechanism.machine, checked.found))
        except TimeLimitError as error:
            stopped = error.told
        record = sweep_record(checked, joints, measures, cured, smaller, constant, stopped)
        return checked, _weighed(record, mechanism.machine, known)


def _weighed(record: Record, machine: Machine, known: FiguresCache | None) -> Record:
    """``record`` with what the machine weighs, as far as the file says and there is time."""
    with suppress(TimeLimitError), extra_time():
        volumes = KnownVolumes(known) if known is not None else None
        record = replace(record, weight=weight_entry(machine, volumes.of if volumes else volume_and_centre))
        if volumes:
            volumes.keep()
    return record
