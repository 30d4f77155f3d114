"""The sweep: every pair's clearance over the whole range of the drives, proven by cutting the range into cells.

All pairs go forward together, round by round, so that they share cells and posture solves: each pair cuts
its lowest cells, bounds the thirds without a query where boxes are enough, and asks for the distances that
are left; one batch of queries answers all pairs. First every pair is decided against its required clearance,
then the nearest pairs are closed in on. The order never depends on the number of cores.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from concurrent.futures import BrokenExecutor, Executor
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from assembly.clearance.cells import Cells, Ids
from assembly.clearance.distance import swallowed
from assembly.clearance.judge import judge
from assembly.clearance.outcome import Effort, PairResult, SweepResult, Verdict, Work
from assembly.clearance.outline import box_gaps, boxes, outline_of
from assembly.clearance.pairs import Pairs
from assembly.clearance.polish import measure_at, polish
from assembly.clearance.queries import Bench, bench
from assembly.clearance.search import PairSearch, Side
from assembly.clearance.strike import deepest, first_contacts
from assembly.geometry.mesh import Floats
from assembly.motion.bodies import GROUND
from assembly.motion.solver import Mechanism, Unreachable, unreachable
from assembly.motion.travel import travel

DECIDE_AT_ONCE = 4096
BRACKET_AT_ONCE = 96
"""Cells that one pair cuts in one round; few while closing in, so that the best found so far can prune."""
NEAREST = 20
"""This many of the nearest pairs are always closed in on."""
REGION_CUTS = 3.0**-3
"""Share of a drive's range down to which the region of a failing pair is shown."""
SMALLEST_CUT = 3.0**-9
"""Share of a drive's range below which no cell is cut: the pair stays undecided there."""
STRIKES_SHOWN = 12
"""At most this many failing pairs are shown with overlap and first contacts; the others keep their numbers."""
UNREACHABLE_TOLD = 20
"""At most this many places that cannot be reached are told one by one."""

TOUCH = 1e-6
"""mm: a pair that need keep no clearance must still not touch."""
NO_ROWS = np.zeros(0, dtype=np.intp)

Question = Callable[[PairSearch], tuple[float, float]]
"""The bound a pair wants for its cells, and the smallest cell (share of the range) worth cutting for it."""
Progress = Callable[[str, int, int], None]
"""Called with the stage, how many pairs are done and how many there are."""


def sweep(
    mechanism: Mechanism, pairs: Pairs, effort: Effort, progress: Progress, executor: Executor | None = None
) -> SweepResult:
    """Decide every pair over the whole range, then close in on the nearest.

    ``executor``: where distances are measured; default is ``effort.cores`` processes of this machine.
    """
    solids = list(pairs.solids.values())
    with bench(solids, effort.cores, executor) as queries:
        return _Sweep(mechanism, pairs, effort, progress, queries).run()


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """Cells a pair is to look at, the bounds they inherit, and which of its leaves they take the place of."""

    search: PairSearch
    ids: Ids
    inherited: Floats
    replaced: NDArray[np.intp]


class _BudgetSpentError(Exception):
    """The time allowed is over."""


class _Sweep:
    """One run: the searches of all pairs, and the cells they share."""

    def __init__(self, mechanism: Mechanism, pairs: Pairs, effort: Effort, progress: Progress, queries: Bench) -> None:
        self.mechanism, self.effort, self.progress, self.bench = mechanism, effort, progress, queries
        self.began = time.monotonic()
        self.work = Work()
        self.searches = _searches(mechanism, pairs)
        self.swallowed: set[int] = set()
        self.cells = Cells(mechanism)
        self.given_up: Ids = np.zeros(0, dtype=np.intp)

    def run(self) -> SweepResult:
        stopped = ""
        try:
            self._stage("look at rest", self._look_at_rest)
            self._stage("prove motion", self._prove_motion)
            self._stage("decide", self._decide)
            if not self.effort.decide_only:
                self._stage("close in", self._close_in)
        except _BudgetSpentError:
            stopped = f"the budget of {self.effort.budget_s:g} s was spent"
        except KeyboardInterrupt:
            stopped = "stopped by hand"
        except BrokenExecutor:
            stopped = "a process that measures distances died, perhaps for want of memory"
        return self._result(stopped)

    def _stage(self, name: str, do: Callable[[], None]) -> None:
        start = time.monotonic()
        try:
            do()
        finally:
            self.work.seconds[name] = round(time.monotonic() - start, 3)

    def _look_at_rest(self) -> None:
        """Measure every pair once, so that the farthest have a number too, and find parts that hold another."""
        home = np.zeros((1, len(self.mechanism.machine.drives)))
        measure_at(self.mechanism, self.bench, self.searches, [home] * len(self.searches))
        for index, search in enumerate(self.searches):
            places = [
                self.mechanism.world_from_rest(self.mechanism.home, side.part)[0] for side in (search.a, search.b)
            ]
            a, b = self.bench.probes[search.a.solid], self.bench.probes[search.b.solid]
            if search.least > 0 and swallowed(a, b, *places):
                self.swallowed.add(index)
                search.least = 0.0

    def _prove_motion(self) -> None:
        roots, self.given_up = self.cells.proven_roots()
        for search in self.searches:
            if search.pair.still:
                search.tiling = (roots[:1], np.array([search.least - search.errors]))
        swept = self._swept_boxes(roots)
        looks = [
            Look(search, roots, box_gaps(swept[search.a.solid], swept[search.b.solid]) - search.errors, NO_ROWS)
            for search in self._moving()
        ]
        self._look(looks, [_required(look.search) for look in looks])

    def _swept_boxes(self, roots: Ids) -> dict[int, Floats]:
        """For every solid a box (N, 2, 3) round all the room it can take in each root cell: settles far pairs."""
        motion, mechanism = self.cells.motion.take(roots), self.mechanism
        swept = {}
        for side in (side for search in self._moving() for side in (search.a, search.b)):
            if side.solid not in swept:
                far = travel(
                    motion, side.body, GROUND, side.outline.points, side.outline.radii, mechanism.bodies.centres
                )
                still = boxes(side.outline, mechanism.world_from_rest(motion.posture, side.part))
                swept[side.solid] = still + far[:, None, None] * np.array([[-1.0], [1.0]])
        return swept

    def _decide(self) -> None:
        self._refine("decide", self._moving(), _to_decide, DECIDE_AT_ONCE)

    def _close_in(self) -> None:
        ranked = sorted(self._moving(), key=lambda search: search.least)
        near = [
            search
            for rank, search in enumerate(ranked)
            if search.least > 0 and (rank < NEAREST or search.least < search.pair.required + self.effort.interest_mm)
        ]
        polish(self.mechanism, self.bench, near)
        self._refine("close in", near, self._to_close_in, BRACKET_AT_ONCE)
        polish(self.mechanism, self.bench, near)

    def _to_close_in(self, search: PairSearch) -> tuple[float, float]:
        """The bound that closes the bracket, as near the least as the errors of the surfaces allow."""
        bracket = max(self.effort.bracket_mm, self.effort.bracket_share * search.least)
        return search.least - max(bracket, 1.5 * search.errors), SMALLEST_CUT

    def _moving(self) -> list[PairSearch]:
        return [search for search in self.searches if not search.pair.still]

    def _refine(self, stage: str, searches: Sequence[PairSearch], question: Question, at_once: int) -> None:
        """Cut each pair's lowest cells until the question it is asked has its answer."""
        active = list(searches)
        while active:
            looks, targets = [], []
            for search in active:
                target, smallest = question(search)
                rows = search.lowest(target, self.cells, smallest, at_once)
                if len(rows):
                    leaves, bounds = search.tiling
                    looks.append(Look(search, leaves[rows], bounds[rows], rows))
                    targets.append(target)
            thirds = self.cells.split(np.concatenate([look.ids for look in looks])) if looks else NO_ROWS
            self._look(_cut(looks, thirds), targets)
            active = [look.search for look in looks]
            self.progress(stage, len(searches) - len(active), len(searches))

    def _look(self, looks: Sequence[Look], targets: Sequence[float]) -> None:
        visits = [
            look.search.prepare(self.cells, look.ids, look.inherited, target)
            for look, target in zip(looks, targets, strict=True)
        ]
        measured = self.bench.measure([visit.job for visit in visits])
        for look, visit, distances in zip(looks, visits, measured, strict=True):
            visit.take_in(distances, self.cells, look.replaced)
        if self.effort.budget_s is not None and time.monotonic() - self.began > self.effort.budget_s:
            raise _BudgetSpentError

    def _result(self, stopped: str) -> SweepResult:
        self.work.poses += len(np.unique(self.cells.centre_of))
        self.work.cells, self.work.queries = len(self.cells), self.bench.queries
        self.work.query_seconds = round(self.bench.seconds, 3)
        covered = "prove motion" in self.work.seconds
        pairs = [
            judge(search, self.cells, swallowed=index in self.swallowed, stopped=stopped)
            for index, search in enumerate(self.searches)
        ]
        if not stopped:
            self._stage("show strikes", lambda: self._show_strikes(pairs))
        half = self.cells.motion.half[self.given_up]
        share = float(np.prod(2 * half / self.cells.span, axis=1).sum()) if covered else 1.0
        return SweepResult(tuple(pairs), self._unreachable(), share, stopped, self.work)

    def _show_strikes(self, pairs: list[PairResult]) -> None:
        """For the failing pairs, worst first: the deepest overlap, and the first contact along each drive."""
        failing = [index for index, result in enumerate(pairs) if result.verdict is Verdict.FAILS]
        failing.sort(key=lambda index: pairs[index].least - pairs[index].pair.required)
        for index in failing[:STRIKES_SHOWN]:
            search, result = self.searches[index], pairs[index]
            at, overlap = result.at, None
            if result.least <= 0:
                overlap = deepest(self.mechanism, self.bench, search, result.region)
                at = overlap.at
            contacts = () if search.pair.still else first_contacts(self.mechanism, self.bench, search, at)
            pairs[index] = replace(result, at=at, overlap=overlap, first_contacts=contacts)

    def _unreachable(self) -> tuple[Unreachable, ...]:
        """The widest of the cells that were given up, one by one."""
        widest = self.given_up[np.argsort(-self.cells.share_of_range(self.given_up), kind="stable")]
        return tuple(
            unreachable(self.mechanism, self.cells.solved(widest[k : k + 1]), 0)
            for k in range(min(UNREACHABLE_TOLD, len(widest)))
        )


def _to_decide(search: PairSearch) -> tuple[float, float]:
    """The bound that decides a pair and the smallest cell worth cutting for it."""
    required = _required(search)
    if search.least < required:
        return required, REGION_CUTS
    if search.least - search.errors < required:
        return -np.inf, 1.0
    return required, SMALLEST_CUT


def _required(search: PairSearch) -> float:
    return max(search.pair.required, TOUCH)


def _cut(looks: Sequence[Look], thirds: Ids) -> list[Look]:
    """The looks at the thirds of the cells of ``looks``; each inherits its parent's bound."""
    cut, start = [], 0
    for look in looks:
        ids = thirds[start : start + len(look.ids)].reshape(-1)
        start += len(look.ids)
        cut.append(Look(look.search, ids, np.repeat(look.inherited, 3), look.replaced))
    return cut


def _searches(mechanism: Mechanism, pairs: Pairs) -> list[PairSearch]:
    numbers = {trim: number for number, trim in enumerate(pairs.solids)}
    outlines = {trim: outline_of(solid.mesh) for trim, solid in pairs.solids.items()}
    searches = []
    for pair in pairs.checked:
        a, b = (
            Side(numbers[trim], trim.part, mechanism.bodies.body_of[trim.part], outlines[trim])
            for trim in (pair.trim_a, pair.trim_b)
        )
        error = sum(pairs.solids[trim].mesh.surface_error for trim in (pair.trim_a, pair.trim_b))
        searches.append(PairSearch(pair, a, b, error))
    return searches
