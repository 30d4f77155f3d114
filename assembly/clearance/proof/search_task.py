"""The search of some pairs as one task: what a worker does, and what it gives back.

A worker keeps its cells and its solids from task to task. What it finds of a pair depends on neither, so it is the same
whichever worker searches it, and together with whichever others.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from assembly.clearance.narrow_phase.checked_pairs import Pairs
from assembly.clearance.narrow_phase.pair_result import Effort, PairResult, Verdict
from assembly.clearance.narrow_phase.queries import Bench
from assembly.clearance.narrow_phase.witness import Witnesses
from assembly.clearance.proof.cached import CachedPair, Depth
from assembly.clearance.proof.cell_groups import CellGroups
from assembly.clearance.proof.nearest_points import with_witnesses
from assembly.clearance.proof.pair_state import PairState
from assembly.clearance.proof.settled import result_of, settle
from assembly.clearance.proof.solid_table import SolidTable
from assembly.clearance.proof.stages import SearchStages, required_of
from assembly.clearance.proof.strike import show_strike
from assembly.errors import TimeLimitError
from assembly.kinematics.mechanism import Mechanism
from assembly.parallel.tasks import StopSign
from assembly.time_limit import TimeLeft, check_time, extra_time, time_limit, untimed


@dataclass(frozen=True, slots=True)
class Wanted:
    """A pair by its number, and how far it is to be looked into at least: as far as its own figures ask, or farther."""

    pair: int
    depth: Depth = Depth.APART


@dataclass(frozen=True, slots=True, eq=False)
class Searched:
    """What a task found of each of its pairs, in their order, and its work; None of pairs that it did not come to.

    ``stopped`` says why, where it ended early.
    """

    pairs: tuple[CachedPair | None, ...]
    stopped: str = ""
    queries: int = 0
    query_seconds: float = 0.0
    poses: int = 0
    cells: int = 0


@dataclass(slots=True, eq=False)
class SearchContext:
    """All that the searches of one sweep have in common.

    ``measured_mm``: pairs whose boxes leave them nearer than this are measured. ``few``: so few pairs move that each
    is among the nearest. ``groups`` hold the cells in which the motion is proven already.
    """

    mechanism: Mechanism
    pairs: Pairs
    effort: Effort
    groups: CellGroups
    measured_mm: float
    few: bool
    searcher: Searcher | None = None


TELLING_SHARE = 0.4
"""Of the extra time that a time limit leaves: a task tells what it found by then, the rest is for what waits for it."""


class _EndedError(Exception):
    """The task is to end, for this reason."""


def search_task(context: SearchContext, stop: StopSign, wanted: Sequence[Wanted], left: TimeLeft | None) -> Searched:
    """On a worker: search the pairs ``wanted`` in the time that is ``left``."""
    if context.searcher is None:
        context.searcher = Searcher(context)
    seconds, asked = (left.seconds, left.asked) if left is not None else (None, None)
    with time_limit(seconds, asked=asked):
        try:
            return context.searcher.run(wanted, stop)
        except TimeLimitError as error:
            return Searched((None,) * len(wanted), error.told)


@dataclass(slots=True, eq=False)
class _Until:
    """When a task has to end: at the stop sign, or when the time allowed is over."""

    stop: StopSign | None = None

    def check(self) -> None:
        """Raise where it is to end."""
        check_time()
        if self.stop is not None and (why := self.stop.read()):
            raise _EndedError(why)


@dataclass(slots=True, eq=False)
class Searcher:
    """One worker's searches: cells and solids that it made, and the failing pairs that may yet have to be shown."""

    context: SearchContext
    bench: Bench = field(init=False)
    stages: SearchStages = field(init=False)
    until: _Until = field(default_factory=_Until)
    failing: dict[int, PairState] = field(default_factory=dict)

    def __post_init__(self) -> None:
        own = self.context
        self.bench = Bench((), Path(), None)
        solid_table = SolidTable(own.mechanism, own.pairs.solids, split=True)
        self.stages = SearchStages(own.groups, solid_table, self.bench, own.effort, lambda *_: None, self._check)

    def _check(self) -> None:
        self.until.check()

    def run(self, wanted: Sequence[Wanted], stop: StopSign) -> Searched:
        """Search the pairs ``wanted``; where the task ends early, as far as it got."""
        self.until = _Until(stop)
        queries, seconds = self.bench.queries, self.bench.seconds
        poses, cells = self.context.groups.poses, self.context.groups.count
        states = [self._state(one) for one in wanted]
        shown: dict[int, PairResult] = {}
        why = ""
        try:
            self._search(states)
            shown = self._shown(wanted, states)
        except _EndedError as ended:
            why = str(ended)
        except TimeLimitError as error:
            why = error.told
        with extra_time(TELLING_SHARE):
            found = self._found(wanted, states, shown, why)
        return Searched(
            found,
            why,
            self.bench.queries - queries,
            self.bench.seconds - seconds,
            self.context.groups.poses - poses,
            self.context.groups.count - cells,
        )

    def _state(self, wanted: Wanted) -> PairState:
        """Where the search of a pair begins; a failing one that was searched here goes on from there."""
        if wanted.depth is Depth.SHOWN and wanted.pair in self.failing:
            return self.failing[wanted.pair]
        depth = Depth.DECIDED if wanted.depth is Depth.SHOWN else wanted.depth
        return PairState(self.context.pairs.checked[wanted.pair], depth=depth)

    def _search(self, states: Sequence[PairState]) -> None:
        """Take each pair as far as it is wanted, and as far as its own figures ask."""
        stages, effort = self.stages, self.context.effort
        new = [state for state in states if state.search is None]
        stages.wake(new)
        for state in new:
            if state.depth is Depth.APART and self._is_measured(state):
                state.depth = Depth.DECIDED
        stages.measure_at_rest([state for state in new if state.depth is not Depth.APART])
        moving = [state for state in new if not state.pair.rigidly_coupled]
        stages.decide(moving)
        if not effort.decide_only:
            for state in moving:
                if state.depth is Depth.DECIDED and self._is_near(state):
                    state.depth = Depth.CLOSED_IN
            stages.close_in([state for state in moving if state.depth is Depth.CLOSED_IN])

    def _is_measured(self, state: PairState) -> bool:
        """Whether a pair is measured at rest whatever the others do."""
        few = self.context.few and not state.pair.rigidly_coupled
        return few or state.bound < self.context.measured_mm or self.context.effort.asks_for(state.pair)

    def _is_near(self, state: PairState) -> bool:
        """Whether a pair is closed in on whatever the others do."""
        effort = self.context.effort
        near = effort.near(required_of(state.pair), state.surface_error)
        asked = self.context.few or effort.asks_for(state.pair)
        return state.decided > 0 and (state.decided < near or asked)

    def _shown(self, wanted: Sequence[Wanted], states: Sequence[PairState]) -> dict[int, PairResult]:
        """Where and how deep those fail that are to be shown, by their place in the task."""
        shown = {}
        for place, (one, state) in enumerate(zip(wanted, states, strict=True)):
            if one.depth is Depth.SHOWN and (search := state.search) is not None:
                cells, result = self.stages.cells_of(search), self._result(state, "")
                own = self.context.mechanism, self.bench, search, result, cells, self.context.effort
                shown[place] = show_strike(*own, self.until.check)
                state.depth = Depth.SHOWN
        return shown

    def _result(self, state: PairState, why: str) -> PairResult:
        settle(self.stages, state)
        with untimed():
            return result_of(self.stages, state, stopped=why, covered=True)

    def _found(
        self, wanted: Sequence[Wanted], states: Sequence[PairState], shown: Mapping[int, PairResult], why: str
    ) -> tuple[CachedPair | None, ...]:
        """What was found of each pair, with its nearest points; those that fail are kept, to be shown later."""
        self.failing = {}
        begun = [place for place, state in enumerate(states) if state.search is not None]
        own, results = (
            [states[place] for place in begun],
            [shown.get(place) or self._result(states[place], why) for place in begun],
        )
        witnesses = Witnesses(self.context.mechanism, self.context.pairs.solids, self.stages.collision_models)
        every = with_witnesses(self.context.mechanism, witnesses, own, results)
        known: list[CachedPair | None] = [None] * len(states)
        for place, state, result, found in zip(begun, own, results, every, strict=True):
            known[place] = state.with_found(found)
            if result.verdict is Verdict.FAILS:
                self.failing[wanted[place].pair] = state
        return tuple(known)
