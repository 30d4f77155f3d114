"""One variant as a task: the machine made with its numbers, swept in one process, and its row."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, replace

from assembly.api.variants.asked import AskedVariant
from assembly.cache.sealed_rows import cache_path
from assembly.cache.sqlite_cache import open_memory
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.errors import AssemblyError, CutShortError, InputError, TimeLimitError
from assembly.model.machine import Machine
from assembly.model.variation import varied_machine
from assembly.parallel.tasks import StopSign
from assembly.record import StateWord, VariantEntry, VerdictWord
from assembly.studies.stops.stop_design import settle_stops
from assembly.studies.sweep.whole_sweep import sweep_machine
from assembly.studies.variant_row import variant_row
from assembly.time_limit import TimeLeft, out_of_time, time_limit

MESH_CHANGED = "a mesh file was changed while variants were computed; run it again"


@dataclass(frozen=True, slots=True, eq=False)
class VariantsContext:
    """What all variants have in common; ``cached``: take what is known of pairs from the result cache."""

    machine: Machine
    effort: Effort
    stops: bool
    cached: bool


@dataclass(frozen=True, slots=True, eq=False)
class VariantDone:
    """A row, and what is to be said of the result cache."""

    row: VariantEntry
    notes: tuple[str, ...] = ()


class _StoppedError(Exception):
    """The run was stopped."""


def variant_task(context: VariantsContext, stop: StopSign, asked: AskedVariant, left: TimeLeft | None) -> VariantDone:
    """On a worker: one variant, in the time that is ``left``."""
    seconds, limit = (left.seconds, left.asked) if left is not None else (None, None)
    notes: list[str] = []

    def look(_stage: str, _done: int, _every: int) -> None:
        if why := stop.read():
            raise _StoppedError(why)

    with time_limit(seconds, asked=limit):
        try:
            row = _swept(context, asked, look, notes.append)
        except AssemblyError as error:
            row = unswept(asked, "not assembled", error.faults[0].message)
        except InputError as error:
            row = unswept(asked, "refused", str(error.faults[0]))
        except TimeLimitError as error:
            row = unswept(asked, "open", error.told)
        except CutShortError as error:
            row = unswept(asked, "open", error.faults[0].message)
        except _StoppedError as error:
            row = unswept(asked, "open", str(error))
    return VariantDone(row, tuple(notes))


def unswept(asked: AskedVariant, state: StateWord, reason: str) -> VariantEntry:
    """The row of a variant that has no sweep: it fails where it makes no machine, else it is undecided."""
    verdict: VerdictWord = "undecided" if state == "open" else "fails"
    values = {one.name: value for one, value in asked.values.items()}
    return VariantEntry(0, values, state, verdict, " ".join(reason.split()), asked.name)


def _swept(
    context: VariantsContext,
    asked: AskedVariant,
    look: Callable[[str, int, int], None],
    say: Callable[[str], None],
) -> VariantEntry:
    machine = varied_machine(context.machine, asked.values)
    if machine.digests != context.machine.digests:
        return unswept(asked, "open", MESH_CHANGED)
    with open_memory(cache_path(os.environ), say, anew=not context.cached) as memory:
        _, record = sweep_machine(machine, context.effort, look, memory, advise=False)
        stops = None
        if context.stops and machine.stops and not record.work.stopped:
            stops = settle_stops(machine, context.effort, look, memory=memory).record
    values = {one.name: value for one, value in asked.values.items()}
    row = replace(variant_row(values, record, stops), name=asked.name)
    why = record.work.stopped or out_of_time()
    return replace(row, state="open", verdict="undecided" if row.verdict == "clear" else row.verdict) if why else row
