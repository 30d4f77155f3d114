"""A stop design with what the result cache knows of its ways and of the pairs of its proof."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping

from assembly.api.cores import all_cores
from assembly.cache.sealed_rows import cache_path
from assembly.cache.sqlite_cache import open_memory
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.model.machine import Machine
from assembly.progress import Progress
from assembly.studies.stops.stop_design import StopsSettled, settle_stops


def cached_stops(
    machine: Machine,
    heights: Mapping[str, float] | None,
    cores: int | None,
    progress: Progress,
    say: Callable[[str], None],
    *,
    cached: bool,
) -> StopsSettled:
    """As ``settle_stops``, with what the result cache knows if it is ``cached`` there; ``say`` gets its notes."""
    with open_memory(cache_path(os.environ), say, anew=not cached) as memory:
        return settle_stops(machine, Effort(cores=cores or all_cores()), progress, heights, memory=memory)
