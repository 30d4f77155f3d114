"""A map with the sweep's answer to the pairs in it."""

from __future__ import annotations

import os
from dataclasses import dataclass

from assembly.cache.sealed_rows import cache_path
from assembly.cache.sqlite_cache import open_memory
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.proof.sweep import STOPPED_BY_HAND
from assembly.model.machine import Machine
from assembly.progress import Progress
from assembly.record import MapRecord
from assembly.studies.map_study import MapWish as MapWish
from assembly.studies.map_study import check_pair, lattice_of, map_clearance
from assembly.studies.sweep.check import check
from assembly.studies.sweep.joint_ranges import JointsFound
from assembly.studies.sweep.sweep_record import sweep_record
from assembly.studies.sweep.verdict import of_pairs


@dataclass(frozen=True, slots=True, eq=False)
class MapNoted:
    """A map, and what is to be said of the result cache, a sentence each; mostly nothing."""

    record: MapRecord
    notes: tuple[str, ...]


def swept_map(machine: Machine, wish: MapWish, progress: Progress, cores: int, *, cached: bool = True) -> MapNoted:
    """Sweep the pairs that are wished over the whole range, and map the machine as it was swept.

    The sweep's answer is taken from the result cache if it is ``cached`` there. Raises as ``map_clearance`` does, and
    KeyboardInterrupt where the sweep was stopped by hand.
    """
    lattice_of(machine, wish)
    check_pair(machine, wish)
    effort = Effort(cores=cores, pairs=(wish.pair,) if wish.pair else ())
    notes: list[str] = []
    with open_memory(cache_path(os.environ), notes.append, anew=not cached) as memory:
        checked = check(machine, effort, progress, memory=memory, only=(wish.pair,) if wish.pair else ())
    if checked.swept.stopped == STOPPED_BY_HAND:
        raise KeyboardInterrupt
    mapped = map_clearance(checked.mechanism.machine, wish, progress, cores, swept=checked.before).record
    bounded = mapped.bounded(of_pairs(sweep_record(checked, JointsFound()), mapped.names))
    return MapNoted(bounded, tuple(notes))
