"""The sweep: every pair's clearance over the whole range of the drives, proven by cutting the range into cells.

First every pair is decided against its required clearance, then the nearest pairs are closed in on, and those that fail
are shown. What is known of a pair from an earlier sweep is taken as it is; a pair is searched only where something is
missing. The order never depends on the number of cores.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from concurrent.futures import BrokenExecutor, Executor
from contextlib import contextmanager
from dataclasses import replace

import numpy as np

from assembly.clearance.narrow_phase.checked_pairs import Pairs
from assembly.clearance.narrow_phase.pair_result import Effort, PairResult, Verdict, Work
from assembly.clearance.narrow_phase.queries import Bench, bench
from assembly.clearance.proof.at_rest import corners_apart
from assembly.clearance.proof.cached import CachedPair, Depth
from assembly.clearance.proof.cell_groups import CellGroups
from assembly.clearance.proof.cells import Cells
from assembly.clearance.proof.pair_search import PairSearch
from assembly.clearance.proof.pair_state import PairsSwept, PairState
from assembly.clearance.proof.pair_verdict import judge
from assembly.clearance.proof.refiner import Progress
from assembly.clearance.proof.solid_table import SolidTable
from assembly.clearance.proof.stages import SearchStages, required_of
from assembly.clearance.proof.strike import show_strike
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.singular import NEAR, weakest_loop
from assembly.kinematics.solver import unreachable
from assembly.record import UnreachableEntry

NEAREST = 20
"""This many of the nearest pairs are always closed in on."""
AT_REST_AT_ONCE = 64
STRIKES_SHOWN = 12
"""At most this many failing pairs are shown with overlap and first contacts; the others keep their numbers."""
STOPPED_BY_HAND = "stopped by hand"
UNREACHABLE_TOLD = 20
"""At most this many places that cannot be reached are reported one by one."""


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

    ``executor``: where distances are measured; default is ``effort.cores`` processes of this machine. ``known``: of
    each pair, what earlier sweeps found under the same key (``keys.pair_keys``). ``groups``: the cells of an earlier
    sweep of a machine that moves alike, so that its motion is not proven again.
    """
    recalled = known or [None] * len(pairs.checked)
    states = [PairState(pair, one) for pair, one in zip(pairs.checked, recalled, strict=True)]
    with bench((), effort.cores, executor) as queries:
        solid_table = SolidTable(mechanism, pairs.solids)
        return _Sweep(mechanism, states, solid_table, effort, progress, queries, groups or CellGroups(mechanism)).run()


class _BudgetSpentError(Exception):
    """The time allowed is over."""


class _Sweep:
    """One run: the courses of all pairs, and the cells they share."""

    def __init__(
        self,
        mechanism: Mechanism,
        states: Sequence[PairState],
        solid_table: SolidTable,
        effort: Effort,
        progress: Progress,
        queries: Bench,
        groups: CellGroups,
    ) -> None:
        self.mechanism, self.effort, self.progress, self.bench = mechanism, effort, progress, queries
        self.states, self.solid_table = states, solid_table
        self.groups, self.covered = groups, False
        self.search_stages = SearchStages(self.groups, solid_table, queries, effort, progress, self._check_budget)
        self.moving = [state for state in states if not state.pair.rigidly_coupled]
        self.began = time.monotonic()
        self.work, self.stopped = Work(), ""

    def run(self) -> PairsSwept:
        self.search_stages.make_ready([state for state in self.states if state.known is None])
        with self._stopping():
            with self._stage("prove motion"):
                self._prove_motion()
            with self._stage("look at rest"):
                self._look_at_rest()
            with self._stage("decide"):
                self.search_stages.decide(self._to_decide())
            if not self.effort.decide_only:
                with self._stage("close in"):
                    self.search_stages.close_in(self._to_close_in())
            with self._stage("look again"):
                self._look_again()
        return self._result()

    @contextmanager
    def _stopping(self) -> Iterator[None]:
        """Note why what is done here ends early, where it does."""
        try:
            yield
        except _BudgetSpentError:
            self.stopped = f"the budget of {self.effort.budget_s:g} s was spent"
        except KeyboardInterrupt:
            self.stopped = STOPPED_BY_HAND
        except BrokenExecutor:
            self.stopped = "a process that measures distances died, perhaps for want of memory"

    @contextmanager
    def _stage(self, name: str) -> Iterator[None]:
        start = time.monotonic()
        try:
            yield
        finally:
            self.work.seconds[name] = round(time.monotonic() - start, 3)

    def _prove_motion(self) -> None:
        """Find cells whose motion is proven, and settle what boxes round the room that parts take can settle."""
        self.groups.of_blocks()
        for state in self.states:
            if state.known is not None:
                state.bound = state.known.bound
            else:
                self.search_stages.begin(state)
        self.covered = True

    def _look_at_rest(self) -> None:
        """Measure at rest every pair that may come near, and as many of the others as it takes to know the nearest.

        A pair that boxes keep farther off has the distance of two of its points as its least.
        """
        needed = max((required_of(state.pair) for state in self.states), default=0.0) + self.effort.interest_mm
        asked = [state for state in self.states if self.effort.asks_for(state.pair)]
        near = asked + [
            one for one in self.states if one.pair.rigidly_coupled and one.bound < needed and one not in asked
        ]
        far = sorted((one for one in self.moving if one not in asked), key=lambda state: state.bound)
        nearest = np.inf
        while near or (far and far[0].bound < max(needed, nearest)):
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
        self.search_stages.wake([state for state in unknown if state.search is None])
        self.search_stages.measure_at_rest(unknown)

    def _to_decide(self) -> list[PairState]:
        """The moving pairs that are searched; of those that are not, what was known when they were decided."""
        for state in self.moving:
            if state.search is None and state.known is not None and state.depth is Depth.DECIDED:
                state.decided = state.known.decided
        return [state for state in self.moving if state.search is not None]

    def _to_close_in(self) -> list[PairState]:
        """The nearest pairs, those below their interest and those asked for, of which some are searched."""
        ranked = sorted((state for state in self.moving if state.decided > 0), key=lambda state: state.decided)
        for rank, state in enumerate(ranked):
            near = self.effort.near(required_of(state.pair), state.surface_error)
            if rank < NEAREST or state.decided < near or self.effort.asks_for(state.pair):
                state.depth = Depth.CLOSED_IN
        return [state for state in ranked if state.depth is Depth.CLOSED_IN and state.search is not None]

    def _look_again(self) -> None:
        """Take what is known of the pairs that are not searched; search those that no sweep looked into so far."""
        missing = []
        for state in self.states:
            if state.search is None:
                state.found = state.cached_at(state.depth) or state.cached_at(Depth.SHOWN)
                if state.found is None:
                    missing.append(state)
        self.search_stages.to_depth(missing)

    def _check_budget(self) -> None:
        if self.effort.budget_s is not None and time.monotonic() - self.began > self.effort.budget_s:
            raise _BudgetSpentError

    def _result(self) -> PairsSwept:
        for state in self.states:
            self._settle(state)
        pairs = [self._verdict(state) for state in self.states]
        if not self.stopped and self.effort.strikes_shown:
            with self._stopping(), self._stage("show strikes"):
                self._show_strikes(pairs)
        self.work.poses += sum(len(np.unique(cells.centre_of)) for cells in self.groups.made)
        self.work.cells, self.work.queries = sum(map(len, self.groups.made)), self.bench.queries
        self.work.query_seconds = round(self.bench.seconds, 3)
        self.work.recalled = sum(state.search is None for state in self.states)
        collision_models = {
            exclusion: self.bench.collision_models[number] for exclusion, number in self.solid_table.numbers.items()
        }
        lost = self._unreachable() if self.covered else ()
        share = self._unresolved_share() if self.covered else 1.0
        return PairsSwept(
            tuple(pairs), tuple(self.states), lost, share, self.stopped, self.work, self.groups, collision_models
        )

    def _settle(self, state: PairState) -> None:
        """See to it that a pair has a result: what is known of it, or a least that two of its points show."""
        search = state.search
        if search is None:
            state.found = state.found or state.deepest
        elif not np.isfinite(search.least):
            state.corners = corners_apart(self.mechanism, search, self.solid_table.source)
            search.found(state.corners.distance, np.zeros(len(self.mechanism.machine.drives) + len(search.rolls)))

    def _verdict(self, state: PairState) -> PairResult:
        """From its search, or as it is known; of a sweep that ended early, as far as any earlier one looked into it."""
        search, unresolved = state.search, 1.0
        if search is None:
            if state.found is None:
                raise LookupError(f"nothing is known of {state.pair.a} and {state.pair.b}")
            return state.found.result
        if self.covered:
            unresolved = self.search_stages.cells_of(search).unresolved_share()
        return judge(search, self.groups, stopped=self.stopped, unresolved=unresolved).bracketed(self.effort)

    def _show_strikes(self, pairs: list[PairResult]) -> None:
        """For the failing pairs, worst first: the region, the deepest overlap, and the first contact on each way."""
        failing = [index for index, result in enumerate(pairs) if result.verdict is Verdict.FAILS]
        failing.sort(key=lambda index: pairs[index].least - pairs[index].pair.required)
        chosen = failing[:STRIKES_SHOWN]
        self._recall_failing(failing, chosen)
        for number, index in enumerate(failing):
            state = self.states[index]
            self._settle(state)
            pairs[index] = self._verdict(state)
            if index in chosen and state.search is not None:
                self.progress("show strikes", number, len(chosen))
                pairs[index] = self._shown(state.search, pairs[index])
                state.depth = Depth.SHOWN

    def _shown(self, search: PairSearch, result: PairResult) -> PairResult:
        cells = self.search_stages.cells_of(search)
        return show_strike(cells.mechanism, self.bench, search, result, cells, self.effort, self._check_budget)

    def _recall_failing(self, failing: Sequence[int], chosen: Sequence[int]) -> None:
        """Take what is known of failing pairs, shown where ``chosen``; search those of which that is not known."""
        missing = []
        for index in failing:
            state = self.states[index]
            if state.search is None:
                depth = Depth.SHOWN if index in chosen else state.depth
                state.found = state.cached_at(depth)
                if state.found is None:
                    missing.append(state)
                else:
                    state.depth = depth
        self.search_stages.to_depth(missing)

    def _unresolved_share(self) -> float:
        """No more of the range than this could not be proven to go together."""
        return min(1.0, sum(cells.unresolved_share() for cells in self.groups.of_blocks()))

    def _unreachable(self) -> tuple[UnreachableEntry, ...]:
        """The widest of the cells that were given up, one by one; first those whose centre cannot be assembled."""
        every = [cells for cells in self.groups.of_blocks() if len(cells.unresolved)]
        if not every:
            return ()
        places = [(cells, number) for cells in every for number in cells.unresolved.tolist()]
        reached = np.concatenate([cells.reached[cells.unresolved] for cells in every])
        width = np.concatenate([cells.share_of_range(cells.unresolved) for cells in every])
        first = np.lexsort((-width, reached))[:UNREACHABLE_TOLD]
        return tuple(self._lost(*places[row]) for row in first)

    def _lost(self, cells: Cells, number: int) -> UnreachableEntry:
        """What is wrong in the middle of one cell that was given up.

        One that is proven in itself does not agree with those it touches, or nothing joins it to rest: the machine may
        be on another assembly of its links.
        """
        solved = cells.solved(np.array([number]))
        names = list(self.mechanism.machine.drives)
        told = tuple(names[drive] for drive in cells.drives) if len(cells.drives) < len(names) else ()
        lost = replace(unreachable(self.mechanism, solved, 0), drives=told)
        if not solved.reached[0]:
            return lost
        loop, left = weakest_loop(self.mechanism, solved.posture)
        return replace(lost, loop=loop or lost.loop, near_singular=left < NEAR or bool(cells.motion.certified[number]))
