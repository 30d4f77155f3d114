"""The sweep: every pair's clearance over the whole range of the drives, proven by cutting the range into cells.

First every pair is decided against its required clearance, then the nearest pairs are closed in on, and those that fail
are shown. What is known of a pair from an earlier sweep is taken as it is; a pair is searched only where something is
missing. The order never depends on the number of cores.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from concurrent.futures import BrokenExecutor, Executor
from contextlib import contextmanager, suppress
from pathlib import Path

import numpy as np

from assembly.clearance.narrow_phase.checked_pairs import Pairs
from assembly.clearance.narrow_phase.pair_result import Effort, PairResult, Verdict, Work
from assembly.clearance.narrow_phase.queries import Bench
from assembly.clearance.proof.cached import CachedPair, Depth
from assembly.clearance.proof.cell_groups import CellGroups
from assembly.clearance.proof.handed_out import LOST, HandedOut
from assembly.clearance.proof.pair_state import PairsSwept, PairState
from assembly.clearance.proof.refiner import Progress
from assembly.clearance.proof.search_task import SearchContext
from assembly.clearance.proof.settled import result_of, settle
from assembly.clearance.proof.solid_table import SolidTable
from assembly.clearance.proof.stages import SearchStages, required_of
from assembly.clearance.proof.strike import show_strike
from assembly.clearance.proof.task_groups import worth_workers
from assembly.clearance.proof.unreached import unreached, unresolved_share
from assembly.errors import TimeLimitError
from assembly.kinematics.mechanism import Mechanism
from assembly.parallel.workers import Workers, workers, works_elsewhere
from assembly.time_limit import check_time, extra_time, time_limit, untimed

NEAREST = 20
"""This many of the nearest pairs are always closed in on."""
AT_REST_AT_ONCE = 64
STRIKES_SHOWN = 12
"""At most this many failing pairs are shown with overlap and first contacts; the others keep their numbers."""
STOPPED_BY_HAND = "stopped by hand"


def sweep_pairs(
    mechanism: Mechanism,
    pairs: Pairs,
    effort: Effort,
    progress: Progress,
    executor: Executor | None = None,
    known: Sequence[CachedPair | None] | None = None,
    groups: CellGroups | None = None,
) -> PairsSwept:
    """Decide every pair over the whole range, then close in on the nearest.

    ``executor``: where pairs are searched; default is ``effort.cores`` processes of this machine, or this process if
    there is little to search. ``known``: for each pair, what earlier sweeps found under the same key
    (``cache_keys.pair_keys``). ``groups``: the cells of an earlier sweep of a machine that moves alike, so that its
    motion is not proven again.
    """
    recalled = known or [None] * len(pairs.checked)
    states = [PairState(pair, one) for pair, one in zip(pairs.checked, recalled, strict=True)]
    sweep = _Sweep(pairs, states, effort, progress, groups or CellGroups(mechanism))
    with time_limit(effort.budget_s), sweep.searching(executor):
        with sweep.stopping():
            with sweep.stage("prove motion"):
                sweep.groups.of_blocks()
                sweep.covered = True
            with sweep.stage("bound" if sweep.handed_out is None else "search"):
                sweep.bound()
            with sweep.stage("look with all at 0"):
                sweep.look_at_rest()
            with sweep.stage("decide"):
                sweep.search_stages.decide(sweep.to_decide())
            if not effort.decide_only:
                with sweep.stage("close in"):
                    sweep.search_stages.close_in(sweep.to_close_in())
            with sweep.stage("look again"):
                sweep.look_again()
        return sweep.result()


class _Sweep:
    """What one sweep knows: the states of all pairs, and the cells they share."""

    def __init__(
        self, pairs: Pairs, states: Sequence[PairState], effort: Effort, progress: Progress, groups: CellGroups
    ) -> None:
        self.mechanism, self.effort, self.progress = groups.mechanism, effort, progress
        self.bench = Bench((), Path(), None)
        self.pairs, self.states, self.solid_table = pairs, states, SolidTable(self.mechanism, pairs.solids, split=True)
        self.groups, self.covered = groups, False
        self.search_stages = SearchStages(groups, self.solid_table, self.bench, effort, progress, check_time)
        self.moving = [state for state in states if not state.pair.rigidly_coupled]
        self.needed = max((required_of(state.pair) for state in states), default=0.0) + effort.interest_mm
        self.work, self.stopped = Work(), ""
        self.handed_out: HandedOut | None = None

    @contextmanager
    def searching(self, executor: Executor | None) -> Iterator[None]:
        """Search in this process, or on workers if an ``executor`` is given or there is enough to search."""
        unknown = [state for state in self._unknown() if not self.search_stages.may_be_far(state.pair)]
        pairs = [state.pair for state in unknown]
        alone = self.effort.cores == 1 and not works_elsewhere()
        if executor is None and (alone or not worth_workers(self.mechanism, pairs)):
            with extra_time():
                self.search_stages.make_ready(unknown)
            yield
        else:
            with workers(self.effort.cores, executor) as handed_to:
                self.handed_out = self._hand_to(handed_to)
                yield

    def _unknown(self) -> list[PairState]:
        return [state for state in self.states if state.known is None]

    def _hand_to(self, workers_: Workers) -> HandedOut:
        few = len(self.moving) <= NEAREST
        context = SearchContext(self.mechanism, self.pairs, self.effort, self.groups, self.needed, few)
        return HandedOut(workers_, context, self.states, self.work, self.progress, self._why)

    def _why(self, error: BaseException) -> str:
        return error.told if isinstance(error, TimeLimitError) else STOPPED_BY_HAND

    @contextmanager
    def stopping(self) -> Iterator[None]:
        """Note why what is done here ends early, if it does."""
        try:
            yield
        except TimeLimitError as error:
            self.stopped = error.told
        except KeyboardInterrupt:
            self.stopped = STOPPED_BY_HAND
        except BrokenExecutor:
            self.stopped = LOST

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        start = time.monotonic()
        try:
            yield
        finally:
            self.work.seconds[name] = round(time.monotonic() - start, 3)

    def bound(self) -> None:
        """Settle what boxes round all that parts can fill settle; workers search on, as far as a pair alone asks."""
        self.search_stages.tell_far(self._unknown())
        unknown = self._unknown()
        if self.handed_out is None:
            self.search_stages.make_ready([state for state in unknown if state.search is None])
            self.search_stages.bound_by_boxes(unknown)
        else:
            self.handed_out.search("search", unknown)
        for state in self.states:
            if state.known is not None:
                state.bound = state.known.bound

    def look_at_rest(self) -> None:
        """Measure at rest every pair that may come near, and as many of the others as it takes to know the nearest.

        A pair that boxes keep farther off has the distance of two of its points as its least.
        """
        asked = [state for state in self.states if self.effort.asks_for(state.pair)]
        near = asked + [
            one for one in self.states if one.pair.rigidly_coupled and one.bound < self.needed and one not in asked
        ]
        far = sorted((one for one in self.moving if one not in asked), key=lambda state: state.bound)
        nearest = np.inf
        while near or (far and far[0].bound < max(self.needed, nearest)):
            near, far = near + far[:AT_REST_AT_ONCE], far[AT_REST_AT_ONCE:]
            self._note_at_rest(near)
            near, found = [], sorted(state.at_rest for state in self.moving)
            nearest = found[min(NEAREST, len(found)) - 1] if found else np.inf

    def _note_at_rest(self, states: Sequence[PairState]) -> None:
        """How pairs stand at rest: measured where no earlier sweep did."""
        for state in states:
            state.depth = Depth.DECIDED
            if state.known is not None:
                state.at_rest = state.known.at_rest
        unknown = [state for state in states if state.at_rest == np.inf]
        if self.handed_out is None:
            self.search_stages.wake([state for state in unknown if state.search is None])
            self.search_stages.measure_at_rest(unknown)
        elif unknown:
            self.handed_out.search("look with all at 0", unknown)
            for state in unknown:
                state.at_rest = state.known.at_rest if state.known is not None else np.inf

    def to_decide(self) -> list[PairState]:
        """The moving pairs that are searched; of those that are not, what was known when they were decided."""
        for state in self.moving:
            if state.search is None and state.known is not None and state.depth is Depth.DECIDED:
                state.decided = state.known.decided
        return [state for state in self.moving if state.search is not None]

    def to_close_in(self) -> list[PairState]:
        """The nearest pairs, those below their interest and those asked for, of which some are searched."""
        ranked = sorted((state for state in self.moving if state.decided > 0), key=lambda state: state.decided)
        for rank, state in enumerate(ranked):
            near = self.effort.near(required_of(state.pair), state.surface_error)
            if rank < NEAREST or state.decided < near or self.effort.asks_for(state.pair):
                state.depth = Depth.CLOSED_IN
        return [state for state in ranked if state.depth is Depth.CLOSED_IN and state.search is not None]

    def look_again(self) -> None:
        """Take what is known of the pairs that are not searched here; search those that no sweep looked into so far."""
        missing = [state for state in self.states if state.search is None and not state.recall()]
        if self.handed_out is None:
            self.search_stages.to_depth(missing)
        elif missing:
            self.handed_out.search("look again", missing)
            for state in missing:
                state.recall()

    def result(self) -> PairsSwept:
        """What was found of all pairs, and where those that fail do."""
        if self.stopped:
            with extra_time():
                self._bound_rest()
        pairs = [self._verdict(state) for state in self.states]
        if not self.stopped and self.effort.strikes_shown:
            with self.stopping(), self.stage("show strikes"):
                self._show_strikes(pairs)
        self.work.poses += self.groups.poses
        self.work.cells += self.groups.count
        self.work.queries += self.bench.queries
        self.work.query_seconds = round(self.work.query_seconds + self.bench.seconds, 3)
        self.work.recalled = sum(state.known is not None and not state.searched for state in self.states)
        with untimed():
            lost = unreached(self.groups) if self.covered else ()
        share = unresolved_share(self.groups) if self.covered else 1.0
        return PairsSwept(
            tuple(pairs),
            tuple(self.states),
            lost,
            share,
            self.stopped,
            self.work,
            self.groups,
            self.search_stages.collision_models,
        )

    def _bound_rest(self) -> None:
        """Bound by boxes what workers did not come to, and measure it at rest if the time allowed was spent.

        Where it was stopped by hand nobody wants to wait for that.
        """
        rest = [state for state in self.states if state.search is None and state.known is None]
        with suppress(TimeLimitError):
            self.search_stages.make_ready(rest)
            if self.covered:
                self.search_stages.bound_by_boxes(rest)
            if self.covered and self.stopped not in (STOPPED_BY_HAND, LOST):
                self.search_stages.measure_at_rest([state for state in rest if state.bound < self.needed])

    def _verdict(self, state: PairState) -> PairResult:
        with extra_time():
            settle(self.search_stages, state)
        with untimed():
            return result_of(self.search_stages, state, stopped=self.stopped, covered=self.covered)

    def _show_strikes(self, pairs: list[PairResult]) -> None:
        """For the failing pairs, worst first: the region, the deepest overlap, and the first contact on each way."""
        failing = [index for index, result in enumerate(pairs) if result.verdict is Verdict.FAILS]
        failing.sort(key=lambda index: pairs[index].least - pairs[index].pair.required)
        chosen = failing[:STRIKES_SHOWN]
        self._recall_failing(failing, chosen)
        for number, index in enumerate(failing):
            state = self.states[index]
            pairs[index] = self._verdict(state)
            if index in chosen and (search := state.search) is not None:
                self.progress("show strikes", number, len(chosen))
                cells = self.search_stages.cells_of(search)
                own = self.mechanism, self.bench, search, pairs[index], cells, self.effort
                pairs[index] = show_strike(*own, check_time)
                state.depth = Depth.SHOWN

    def _recall_failing(self, failing: Sequence[int], chosen: Sequence[int]) -> None:
        """Take what is known of failing pairs, shown where ``chosen``; search those of which that is not known."""
        known = [index for index in failing if self.states[index].search is None]
        wanted = {index: Depth.SHOWN if index in chosen else self.states[index].depth for index in known}
        missing = [self.states[index] for index in known if not self.states[index].recall(wanted[index])]
        if self.handed_out is None:
            self.search_stages.to_depth(missing)
        elif missing:
            self.handed_out.show("show strikes", missing)
            for state in missing:
                state.recall(Depth.SHOWN)
