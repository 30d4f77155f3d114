"""Variants side by side: every set of numbers is put into the machine and swept, on all cores, and each row kept."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path

from assembly.api.cores import all_cores
from assembly.api.variants.asked import AskedVariant, AskedVariants, all_combinations, given_sets
from assembly.api.variants.judging import against_file, best_of
from assembly.api.variants.kept_rows import KeptRows, row_key
from assembly.api.variants.one_variant import VariantDone, VariantsContext, unswept, variant_task
from assembly.api.variants.shown import VariantsResult
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.proof.sweep import STOPPED_BY_HAND
from assembly.errors import Fault, InputError, TimeLimitError
from assembly.model.machine import Machine
from assembly.model.variation import Variables
from assembly.parallel.workers import workers
from assembly.progress import Progress, no_progress
from assembly.record import VariantEntry, VariantsRecord
from assembly.studies.shared import drive_entries, machine_entry, program_entry
from assembly.time_limit import TimeLeft, check_time, time_left

LOST = "the process that swept it died, perhaps for want of memory"
LASTING = ("swept", "not assembled")
"""States that are of the numbers alone: what is refused may be for want of memory, or of a mesh file."""
ROWS = "variants.rows"
"""The name of the file in which finished rows are kept."""
Numbers = Mapping[str, float]


def variants(
    machine: Machine,
    vary: str | Sequence[str] | Mapping[str, Iterable[float]] = (),
    *,
    sets: Iterable[Numbers | tuple[str, Numbers]] = (),
    keep: str | Path | None = None,
    within: float = 0.1,
    stops: bool = True,
    cores: int | None = None,
    progress: Progress = no_progress,
    cached: bool = True,
) -> VariantsResult:
    """Sweep ``machine`` with many sets of numbers, and put what is found side by side.

    Parameters
    ----------
    machine : Machine
        As ``load`` gives it.
    vary : str, sequence of str, or mapping of str to iterable of float
        What takes which values, such as ``"arm=190:210:5"``, ``"rod.set_length=-1,1 half turns of M8"``, or ``{"arm":
        [190, 195]}``, in mm or as the number is; every value of one with every value of the others.
    sets : iterable of mappings, or of (name, mapping)
        Sets of numbers instead; what a set does not name stays as in the file.
    keep : path, optional
        A file in which each finished row is kept at once; the next run takes from it what is there.
    within : float
        How closely the nearest pairs are closed in on, mm.
    stops : bool
        Settle the stops of each variant too, where the file has any.
    cores : int, optional
        Variants that are swept at the same time; by default one on each core.
    progress : callable, optional
        Called with the stage, how many variants are done and how many there are.
    cached : bool
        Take what is known from the result cache and from the file ``keep``.

    Returns
    -------
    VariantsResult
        ``record.entries``, the file's own first. One that makes no machine, or one that cannot be put together, says so
        and the others go on.

    Raises
    ------
    InputError
        For a number that does not exist, an empty range, or more variants than one run makes; and if neither the file
        nor any variant makes a machine that can be swept.

    """
    asked = _asked(Variables(machine), vary, list(sets))
    effort = Effort(bracket_mm=within)
    kept = KeptRows(Path(keep) if keep is not None else None, anew=not cached)
    run = _Run(VariantsContext(machine, effort, stops, cached), asked, kept, progress)
    run.compute(cores or all_cores())
    if run.rows and all(row.state == "refused" for row in run.rows.values()):
        raise InputError(Fault(next(iter(run.rows.values())).reason))
    return VariantsResult(run.record(), tuple(dict.fromkeys(run.notes)))


def _asked(
    variables: Variables,
    vary: str | Sequence[str] | Mapping[str, Iterable[float]],
    sets: Sequence[Numbers | tuple[str, Numbers]],
) -> AskedVariants:
    if sets:
        return given_sets(variables, [one if isinstance(one, tuple) else ("", one) for one in sets])
    if isinstance(vary, Mapping):
        return all_combinations(
            variables, [f"{name}={','.join(map(repr, map(float, of)))}" for name, of in vary.items()]
        )
    return all_combinations(variables, [vary] if isinstance(vary, str) else list(vary))


@dataclass(slots=True, eq=False)
class _Run:
    """What is known of each set so far, by its place."""

    context: VariantsContext
    asked: AskedVariants
    kept: KeptRows
    progress: Progress
    rows: dict[int, VariantEntry] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    stopped: str = ""
    recalled: int = 0

    def compute(self, cores: int) -> None:
        """Sweep what is not kept, one variant on each process; what ends the run early is told in ``stopped``."""
        context, sets = self.context, self.asked.sets
        keys = [row_key(context.machine, one.values, context.effort, stops=context.stops) for one in sets]
        for place, key in enumerate(keys):
            known = self.kept.known(key)
            if known is not None:
                values = {one.name: value for one, value in sets[place].values.items()}
                self.rows[place] = replace(known, values=values, name=sets[place].name)
        self.recalled = len(self.rows)
        open_ = [place for place in range(len(sets)) if place not in self.rows]
        self._told()
        if not open_:
            return

        def taken(number: int, done: VariantDone) -> None:
            place = open_[number]
            self.rows[place] = done.row
            self.notes += done.notes
            if done.row.state in LASTING:
                self.kept.keep(keys[place], done.row)

        try:
            with workers(min(cores, len(open_))) as hands:
                hands.give(context)
                arguments = [partial(_arguments, sets[place]) for place in open_]
                lost = hands.run(variant_task, arguments, taken, self._told, _why)
            self.rows |= {open_[number]: unswept(sets[open_[number]], "open", LOST) for number in lost}
        except TimeLimitError as error:
            self.stopped = error.told
        except KeyboardInterrupt:
            self.stopped = STOPPED_BY_HAND

    def _told(self) -> None:
        self.progress("variants", len(self.rows), len(self.asked.sets))

    def record(self) -> VariantsRecord:
        """All rows in order, held against the file's own."""
        if self.kept.trouble:
            self.notes.append(f"finished rows cannot be kept in {self.kept.path}: {self.kept.trouble}")
        why = self.stopped or "not computed"
        rows = (self.rows.get(place) or unswept(one, "open", why) for place, one in enumerate(self.asked.sets))
        entries = against_file([replace(row, number=number) for number, row in enumerate(rows)])
        machine, bracket = self.context.machine, self.context.effort.bracket_mm
        return VariantsRecord(
            program=program_entry(),
            machine=machine_entry(machine),
            drives=drive_entries(machine),
            varied=self.asked.varied,
            entries=entries,
            best=best_of(entries, self.context.effort),
            bracket_mm=bracket,
            stopped=self.stopped,
            kept=self.recalled,
        )


def _arguments(asked: AskedVariant) -> tuple[AskedVariant, TimeLeft | None]:
    check_time()
    return asked, time_left()


def _why(error: BaseException) -> str:
    return error.told if isinstance(error, TimeLimitError) else STOPPED_BY_HAND
