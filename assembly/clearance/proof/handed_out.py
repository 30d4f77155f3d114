"""Pairs that are searched by workers: handed out group by group, and put back as if they had been known before."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import BrokenExecutor
from functools import partial

from assembly.clearance.narrow_phase.pair_result import Work
from assembly.clearance.proof.cached import CachedPair, Depth
from assembly.clearance.proof.pair_state import PairState
from assembly.clearance.proof.refiner import Progress
from assembly.clearance.proof.search_task import SearchContext, Searched, Wanted, search_task
from assembly.clearance.proof.task_groups import task_groups
from assembly.errors import TimeLimitError
from assembly.parallel.workers import Workers
from assembly.time_limit import TimeLeft, check_time, time_left

LOST = "a process that searches pairs died, perhaps for want of memory"


class HandedOut:
    """The searches of one sweep on ``workers``; ``states`` in the order of the context's pairs."""

    def __init__(
        self,
        workers: Workers,
        context: SearchContext,
        states: Sequence[PairState],
        work: Work,
        progress: Progress,
        why: Callable[[BaseException], str],
    ) -> None:
        self._workers, self._context, self._states = workers, context, states
        self._work, self._progress, self._why = work, progress, why
        self._cut_short = ""
        self._number = {id(state): number for number, state in enumerate(states)}
        workers.give(context)

    def search(self, stage: str, states: Sequence[PairState]) -> None:
        """Let pairs be searched as far as their depth, and as far as their own figures ask.

        What is found of them is then known. BrokenExecutor, once all others are searched, where a process died twice.
        """
        groups = task_groups(self._context.mechanism, [state.pair for state in states], self._workers.count)
        tasks = [[Wanted(self._number[id(states[row])], states[row].depth) for row in rows] for rows in groups]
        self._run(stage, tasks)

    def show(self, stage: str, states: Sequence[PairState]) -> None:
        """Let it be shown where failing pairs fail, each by a task of its own."""
        self._run(stage, [[Wanted(self._number[id(state)], Depth.SHOWN)] for state in states])

    def _run(self, stage: str, tasks: Sequence[Sequence[Wanted]]) -> None:
        done, every = [0], sum(map(len, tasks))

        def taken(number: int, found: Searched) -> None:
            done[0] += len(found.pairs)
            self._take(tasks[number], found)

        arguments = [partial(self._arguments, wanted) for wanted in tasks]
        lost = self._workers.run(
            search_task, arguments, taken, lambda: self._progress(stage, done[0], every), self._why
        )
        if lost:
            raise BrokenExecutor(LOST)
        if self._cut_short:
            raise TimeLimitError(self._cut_short, told=self._cut_short)

    def _arguments(self, wanted: Sequence[Wanted]) -> tuple[Sequence[Wanted], TimeLeft | None]:
        check_time()
        return wanted, time_left()

    def _take(self, wanted: Sequence[Wanted], found: Searched) -> None:
        """Put what a task found to what is known of its pairs; of a task that was cut short, only what was not."""
        self._cut_short = self._cut_short or found.stopped
        for one, new in zip(wanted, found.pairs, strict=True):
            if new is None:
                continue
            state = self._states[one.pair]
            earlier = state.known or CachedPair(new.bound)
            bound = max(new.bound, earlier.bound)
            at_rest, decided = min(new.at_rest, earlier.at_rest), min(new.decided, earlier.decided)
            every = {**new.found, **earlier.found} if found.stopped else {**earlier.found, **new.found}
            state.known = CachedPair(bound, at_rest, decided, every)
            state.searched = True
        self._work.queries += found.queries
        self._work.query_seconds += found.query_seconds
        self._work.poses += found.poses
        self._work.cells += found.cells
