"""The main job: how near every pair of parts comes at any setting of the drives, and what shows it."""

from __future__ import annotations

import time
from collections.abc import Collection, Iterator, Sequence
from concurrent.futures import Executor
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial

from assembly.clearance.narrow_phase.checked_pairs import Pairs, gather_pairs
from assembly.clearance.narrow_phase.drawing_doubts import with_doubts
from assembly.clearance.narrow_phase.named_pairs import effort_faults
from assembly.clearance.narrow_phase.pair_result import Effort, PairResult
from assembly.clearance.narrow_phase.witness import Witnesses
from assembly.clearance.proof.blocked_roll import judge_unchosen, unsettled
from assembly.clearance.proof.cache_keys import pair_keys
from assembly.clearance.proof.cached import CachedPair, FiguresCache, PairFound, ResultCache
from assembly.clearance.proof.cell_groups import groups_known
from assembly.clearance.proof.nearest_points import with_witnesses
from assembly.clearance.proof.pair_state import PairsSwept
from assembly.clearance.proof.recalled_sweep import searched
from assembly.clearance.proof.some_roll import ChosenRoll, with_chosen_rolls
from assembly.clearance.proof.sweep import sweep_pairs
from assembly.clearance.proof.swept_before import SweptBefore, swept_before
from assembly.errors import InputError
from assembly.kinematics.assembling import assemble
from assembly.kinematics.mechanism import Mechanism
from assembly.model.machine import Machine
from assembly.progress import Progress
from assembly.time_limit import extra_time, time_limit


@dataclass(frozen=True, slots=True, eq=False)
class CheckResult:
    """Everything the main job found, the pair with the least room first; ``seconds`` per stage."""

    mechanism: Mechanism
    pairs: Pairs
    swept: PairsSwept
    found: tuple[PairFound, ...]
    effort: Effort
    seconds: dict[str, float]
    rolls: tuple[ChosenRoll, ...] = ()
    """What came of the parts of which the file says that some roll will do."""
    keys: Sequence[str] = ()
    """Of every checked pair, all that its result depends on; none where nothing is kept."""

    @property
    def unsettled(self) -> tuple[PairResult, ...]:
        """The pairs that are not clear for lack of a roll: what is only measured at settings cannot judge them."""
        return unsettled(self.mechanism, self.rolls, (pair.result for pair in self.found))

    @property
    def before(self) -> SweptBefore:
        """What later questions of the same machine need not find out again."""
        return swept_before(self.mechanism, self.pairs, self.unsettled, [pair.result for pair in self.found])


def check(
    machine: Machine,
    effort: Effort,
    progress: Progress,
    executor: Executor | None = None,
    memory: ResultCache | None = None,
    only: Collection[tuple[str, str]] = (),
    figures: FiguresCache | None = None,
) -> CheckResult:
    """Sweep ``machine`` over the whole range of its drives.

    Raises AssemblyError if it cannot be put together, InputError if ``effort`` names a pair that does not exist.

    ``progress`` is called with each stage, and how many of how many pairs are done with it. ``executor``: where
    pairs are searched; default is ``effort.cores`` processes of this machine. What ``memory`` knows of a pair is
    not computed again, and what is found is kept in it. ``only``: the pairs of parts that are swept, if not all.
    ``figures``: what is known of all but pairs.
    """
    seconds: dict[str, float] = {}
    stage = partial(_stage, progress, seconds)
    with time_limit(effort.budget_s):
        with stage("assemble"), extra_time():
            drawn = assemble(with_doubts(machine))
        with stage("gather pairs"), extra_time():
            pairs = _pairs(machine, drawn, effort, only)
        with stage("choose rolls"):
            mechanism, rolls = with_chosen_rolls(drawn, effort, progress, executor)
        keys: Sequence[str] = ()
        known: Sequence[CachedPair | None] = ()
        if memory:
            with stage("recall"):
                keys = pair_keys(mechanism, pairs, effort)
            known = [*map(memory.look_up(keys).get, keys)]
        with stage("sweep"), groups_known(mechanism, figures) as groups:
            swept = sweep_pairs(mechanism, pairs, effort, progress, executor, known, groups)
        with stage("nearest points"), extra_time():
            witnesses = Witnesses(mechanism, pairs.solids, swept.collision_models)
            found = with_witnesses(mechanism, witnesses, swept.states, swept.pairs)
        if memory and not swept.stopped:
            with stage("keep"):
                memory.keep(searched(keys, swept, found))
        with extra_time():
            judged, rolls = judge_unchosen(mechanism, pairs, rolls, found)
        in_order = tuple(sorted(judged, key=lambda pair: pair.room))
        return CheckResult(mechanism, pairs, swept, in_order, effort, {**seconds, **swept.work.seconds}, rolls, keys)


def _pairs(machine: Machine, drawn: Mechanism, effort: Effort, only: Collection[tuple[str, str]]) -> Pairs:
    pairs = gather_pairs(machine, drawn.bodies)
    if faults := effort_faults(machine.parts, pairs, effort):
        raise InputError(*faults)
    if not only:
        return pairs
    wanted = set(map(frozenset, only))
    return pairs.only(pair for pair in pairs.checked if {pair.a, pair.b} in wanted)


@contextmanager
def _stage(progress: Progress, seconds: dict[str, float], name: str) -> Iterator[None]:
    progress(name, 0, 0)
    start = time.monotonic()
    yield
    seconds[name] = round(time.monotonic() - start, 3)
