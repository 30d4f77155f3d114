"""A map with the sweep's answer to the pairs in it."""

from __future__ import annotations

import os
from collections.abc import Callable

from assembly.api.sweeping import Progress
from assembly.clearance.outcome import Effort
from assembly.memory import default_place, open_memory
from assembly.model.machine import Machine
from assembly.record import MapRecord, map_record, pairs_record, with_sweep
from assembly.studies.check import check
from assembly.studies.mapping import MapWish, map_clearance


def swept_map(
    machine: Machine, wish: MapWish, progress: Progress, cores: int, note: Callable[[str], None], *, cached: bool = True
) -> MapRecord:
    """Map ``machine`` as wished, and sweep the pairs that are mapped over the whole range.

    ``note`` is told what is to be said of the result cache, from which the sweep's answer is taken where it is
    ``cached``. Raises as ``map_clearance`` does.
    """
    mapped = map_record(map_clearance(machine, wish, progress, cores))
    effort = Effort(cores=cores, pairs=(wish.pair,) if wish.pair else ())
    with open_memory(default_place(os.environ), note, anew=not cached) as memory:
        checked = check(machine, effort, progress, memory=memory, only=wish.pair)
    return with_sweep(mapped, pairs_record(checked))
