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
from assembly.clearance.proof.cached import Depth, Known
from assembly.clearance.proof.cell_groups import CellGroups
from assembly.clearance.proof.cells import Cells
from assembly.clearance.proof.pair_search import PairSearch
from assembly.clearance.proof.pair_state import Course, SweepResult
from assembly.clearance.proof.pair_verdict import judge
from assembly.clearance.proof.refiner import Progress
from assembly.clearance.proof.solid_table import Stock
from assembly.clearance.proof.stages import Searching, required_of
from assembly.clearance.proof.strike import show_strike
from assembly.kinematics.mechanism import Mechanism, Unreachable
from assembly.kinematics.singular import NEAR, weakest_loop
from assembly.kinematics.solver import unreachable

NEAREST = 20
"""This many of the nearest pairs are always closed in on."""
AT_REST_AT_ONCE = 64
STRIKES_SHOWN = 12
"""At most this many failing pairs are shown with overlap and first contacts; the others keep their numbers."""
STOPPED_BY_HAND = "stopped by hand"
UNREACHABLE_TOLD = 20
"""At most this many places that cannot be reached are told one by one."""


def sweep(
    mechanism: Mechanism,
    pairs: Pairs,
    effort: Effort,
    progress: Progress,
    executor: Executor | None = None,
    known: Sequence[Known | None] | None = None,
    groups: CellGroups | None = None,
) -> SweepResult:
    """Decide every pair over the whole range, then close in on the nearest.

    ``executor``: where distances are measured; default is ``effort.cores`` processes of this machine. ``known``: of
    each pair, what earlier sweeps found under the same key (``keys.pair_keys``). ``groups``: the cells of an earlier
    sweep of a machine that moves alike, so that its motion is not proven again.
    """
    recalled = known or [None] * len(pairs.checked)
    courses = [Course(pair, one) for pair, one in zip(pairs.checked, recalled, strict=True)]
    with bench((), effort.cores, executor) as queries:
        stock = Stock(mechanism, pairs.solids)
        return _Sweep(mechanism, courses, stock, effort, progress, queries, groups or CellGroups(mechanism)).run()


class _BudgetSpentError(Exception):
    """The time allowed is over."""


class _Sweep:
    """One run: the courses of all pairs, and the cells they share."""

    def __init__(
        self,
        mechanism: Mechanism,
        courses: Sequence[Course],
        stock: Stock,
        effort: Effort,
        progress: Progress,
        queries: Bench,
        groups: CellGroups,
    ) -> None:
        self.mechanism, self.effort, self.progress, self.bench = mechanism, effort, progress, queries
        self.courses, self.stock = courses, stock
        self.groups, self.covered = groups, False
        self.searching = Searching(self.groups, stock, queries, effort, progress, self._check_budget)
        self.moving = [course for course in courses if not course.pair.still]
        self.began = time.monotonic()
        self.work, self.stopped = Work(), ""

    def run(self) -> SweepResult:
        self.searching.make_ready([course for course in self.courses if course.known is None])
        with self._stopping():
            with self._stage("prove motion"):
                self._prove_motion()
            with self._stage("look at rest"):
                self._look_at_rest()
            with self._stage("decide"):
                self.searching.decide(self._to_decide())
            if not self.effort.decide_only:
                with self._stage("close in"):
                    self.searching.close_in(self._to_close_in())
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
        for course in self.courses:
            if course.known is not None:
                course.bound = course.known.bound
            else:
                self.searching.begin(course)
        self.covered = True

    def _look_at_rest(self) -> None:
        """Measure at rest every pair that may come near, and as many of the others as it takes to know the nearest.

        A pair that boxes keep farther off has the distance of two of its points as its least.
        """
        needed = max((required_of(course.pair) for course in self.courses), default=0.0) + self.effort.interest_mm
        asked = [course for course in self.courses if self.effort.asks_for(course.pair)]
        near = asked + [one for one in self.courses if one.pair.still and one.bound < needed and one not in asked]
        far = sorted((one for one in self.moving if one not in asked), key=lambda course: course.bound)
        nearest = np.inf
        while near or (far and far[0].bound < max(needed, nearest)):
            near, far = near + far[:AT_REST_AT_ONCE], far[AT_REST_AT_ONCE:]
            self._note_at_rest(near)
            near, found = [], sorted(course.at_rest for course in self.moving)
            nearest = found[min(NEAREST, len(found)) - 1] if found else np.inf

    def _note_at_rest(self, courses: Sequence[Course]) -> None:
        """How pairs stand at rest: measured where no earlier sweep did."""
        for course in courses:
            course.depth = Depth.DECIDED
            if course.known is not None:
                course.at_rest = course.known.at_rest
        unknown = [course for course in courses if course.at_rest == np.inf]
        self.searching.wake([course for course in unknown if course.search is None])
        self.searching.measure_at_rest(unknown)

    def _to_decide(self) -> list[Course]:
        """The moving pairs that are searched; of those that are not, what was known when they were decided."""
        for course in self.moving:
            if course.search is None and course.known is not None and course.depth is Depth.DECIDED:
                course.decided = course.known.decided
        return [course for course in self.moving if course.search is not None]

    def _to_close_in(self) -> list[Course]:
        """The nearest pairs, those below their interest and those asked for, of which some are searched."""
        ranked = sorted((course for course in self.moving if course.decided > 0), key=lambda course: course.decided)
        for rank, course in enumerate(ranked):
            near = self.effort.near(required_of(course.pair), course.surface_error)
            if rank < NEAREST or course.decided < near or self.effort.asks_for(course.pair):
                course.depth = Depth.CLOSED_IN
        return [course for course in ranked if course.depth is Depth.CLOSED_IN and course.search is not None]

    def _look_again(self) -> None:
        """Take what is known of the pairs that are not searched; search those that no sweep looked into so far."""
        missing = []
        for course in self.courses:
            if course.search is None:
                course.found = course.recalled(course.depth) or course.recalled(Depth.SHOWN)
                if course.found is None:
                    missing.append(course)
        self.searching.to_depth(missing)

    def _check_budget(self) -> None:
        if self.effort.budget_s is not None and time.monotonic() - self.began > self.effort.budget_s:
            raise _BudgetSpentError

    def _result(self) -> SweepResult:
        for course in self.courses:
            self._settle(course)
        pairs = [self._verdict(course) for course in self.courses]
        if not self.stopped and self.effort.strikes_shown:
            with self._stopping(), self._stage("show strikes"):
                self._show_strikes(pairs)
        self.work.poses += sum(len(np.unique(cells.centre_of)) for cells in self.groups.made)
        self.work.cells, self.work.queries = sum(map(len, self.groups.made)), self.bench.queries
        self.work.query_seconds = round(self.bench.seconds, 3)
        self.work.recalled = sum(course.search is None for course in self.courses)
        probes = {trim: self.bench.probes[number] for trim, number in self.stock.numbers.items()}
        lost = self._unreachable() if self.covered else ()
        share = self._share_given_up() if self.covered else 1.0
        return SweepResult(tuple(pairs), tuple(self.courses), lost, share, self.stopped, self.work, self.groups, probes)

    def _settle(self, course: Course) -> None:
        """See to it that a pair has a result: what is known of it, or a least that two of its points show."""
        search = course.search
        if search is None:
            course.found = course.found or course.deepest
        elif not np.isfinite(search.least):
            course.corners = corners_apart(self.mechanism, search, self.stock.source)
            search.found(course.corners.distance, np.zeros(len(self.mechanism.machine.drives) + len(search.rolls)))

    def _verdict(self, course: Course) -> PairResult:
        """From its search, or as it is known; of a sweep that ended early, as far as any earlier one looked into it."""
        search, given_up = course.search, 1.0
        if search is None:
            if course.found is None:
                raise LookupError(f"nothing is known of {course.pair.a} and {course.pair.b}")
            return course.found.result
        if self.covered:
            given_up = self.searching.cells_of(search).share_given_up()
        return judge(search, self.groups, stopped=self.stopped, given_up=given_up).bracketed(self.effort)

    def _show_strikes(self, pairs: list[PairResult]) -> None:
        """For the failing pairs, worst first: the region, the deepest overlap, and the first contact on each way."""
        failing = [index for index, result in enumerate(pairs) if result.verdict is Verdict.FAILS]
        failing.sort(key=lambda index: pairs[index].least - pairs[index].pair.required)
        chosen = failing[:STRIKES_SHOWN]
        self._recall_failing(failing, chosen)
        for number, index in enumerate(failing):
            course = self.courses[index]
            self._settle(course)
            pairs[index] = self._verdict(course)
            if index in chosen and course.search is not None:
                self.progress("show strikes", number, len(chosen))
                pairs[index] = self._shown(course.search, pairs[index])
                course.depth = Depth.SHOWN

    def _shown(self, search: PairSearch, result: PairResult) -> PairResult:
        cells = self.searching.cells_of(search)
        return show_strike(cells.mechanism, self.bench, search, result, cells, self.effort, self._check_budget)

    def _recall_failing(self, failing: Sequence[int], chosen: Sequence[int]) -> None:
        """Take what is known of failing pairs, shown where ``chosen``; search those of which that is not known."""
        missing = []
        for index in failing:
            course = self.courses[index]
            if course.search is None:
                depth = Depth.SHOWN if index in chosen else course.depth
                course.found = course.recalled(depth)
                if course.found is None:
                    missing.append(course)
                else:
                    course.depth = depth
        self.searching.to_depth(missing)

    def _share_given_up(self) -> float:
        """No more of the range than this could not be proven to go together."""
        return min(1.0, sum(cells.share_given_up() for cells in self.groups.of_blocks()))

    def _unreachable(self) -> tuple[Unreachable, ...]:
        """The widest of the cells that were given up, one by one; first those whose centre cannot be assembled."""
        every = [(cells, given_up) for cells in self.groups.of_blocks() if len(given_up := cells.given_up)]
        places = [(cells, number) for cells, given_up in every for number in given_up.tolist()]
        reached = np.concatenate([cells.reached[given_up] for cells, given_up in every] or [np.zeros(0, dtype=bool)])
        width = np.concatenate([cells.share_of_range(given_up) for cells, given_up in every] or [np.zeros(0)])
        return tuple(
            self._lost(cells, number)
            for cells, number in (places[row] for row in np.lexsort((-width, reached))[:UNREACHABLE_TOLD])
        )

    def _lost(self, cells: Cells, number: int) -> Unreachable:
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
