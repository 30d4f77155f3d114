"""A sweep of pairs that takes what earlier sweeps found under the same keys, and keeps what it finds itself."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor

from assembly.clearance.narrow_phase.checked_pairs import Pairs
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.narrow_phase.witness import Witnesses
from assembly.clearance.proof.cache_keys import pair_keys
from assembly.clearance.proof.cached import CachedPair, PairFound, ResultCache
from assembly.clearance.proof.nearest_points import with_witnesses
from assembly.clearance.proof.pair_state import PairsSwept
from assembly.clearance.proof.sweep import sweep_pairs
from assembly.kinematics.mechanism import Mechanism
from assembly.progress import Progress
from assembly.time_limit import extra_time


def recalled_sweep(
    mechanism: Mechanism,
    pairs: Pairs,
    effort: Effort,
    progress: Progress,
    executor: Executor | None = None,
    memory: ResultCache | None = None,
) -> tuple[PairsSwept, list[PairFound]]:
    """As ``sweep_pairs``, and what shows each pair's result. What ended early is not kept."""
    keys = [] if memory is None else pair_keys(mechanism, pairs, effort)
    known = None if memory is None else [*map(memory.look_up(keys).get, keys)]
    swept = sweep_pairs(mechanism, pairs, effort, progress, executor, known)
    with extra_time():
        witnesses = Witnesses(mechanism, pairs.solids, swept.collision_models)
        found = with_witnesses(mechanism, witnesses, swept.states, swept.pairs)
    if memory is not None and not swept.stopped:
        memory.keep(searched(keys, swept, found))
    return swept, found


def searched(keys: Sequence[str], swept: PairsSwept, found: Sequence[PairFound]) -> dict[str, CachedPair]:
    """What a sweep searched itself, to be kept under the keys of its pairs."""
    every = zip(keys, swept.states, found, strict=True)
    return {key: state.with_found(own) for key, state, own in every if state.searched}
