"""The sweep: every pair's clearance over the whole range of the drives, proven by cutting the range into cells.

All pairs go forward together, round by round, so that they share cells and posture solves: each piece of a pair
cuts its lowest cells, bounds the thirds without a query where boxes are enough, and asks for the distances that
are left; one batch of queries answers all. First every pair is decided against its required clearance, then the
nearest pairs are closed in on. The order never depends on the number of cores.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from concurrent.futures import BrokenExecutor, Executor
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from assembly.clearance.cells import Cells, Ids
from assembly.clearance.judge import judge
from assembly.clearance.opening import STRIDES, Opening
from assembly.clearance.outcome import Effort, PairResult, SweepResult, Verdict, Work
from assembly.clearance.pairs import Pairs
from assembly.clearance.polish import polish
from assembly.clearance.queries import Bench, bench
from assembly.clearance.rest import measure_at_rest, points_apart
from assembly.clearance.search import PairSearch, PieceSearch
from assembly.clearance.stock import Stock, SweptBoxes
from assembly.clearance.strike import show_strike
from assembly.geometry.mesh import Floats
from assembly.motion.mechanism import Mechanism, Unreachable
from assembly.motion.solver import unreachable

DECIDE_AT_ONCE = 4096
BRACKET_AT_ONCE = 96
"""Cells that one pair cuts in one round; few while closing in, so that the best found so far can prune."""
NEAREST = 20
"""This many of the nearest pairs are always closed in on."""
SMALLEST_CUT = 3.0**-9
"""Share of a drive's range below which no cell is cut: the pair stays undecided there."""
AT_REST_AT_ONCE = 64
STRIKES_SHOWN = 12
"""At most this many failing pairs are shown with overlap and first contacts; the others keep their numbers."""
UNREACHABLE_TOLD = 20
"""At most this many places that cannot be reached are told one by one."""

TOUCH = 1e-6
"""mm: a pair that need keep no clearance must still not touch."""
NO_ROWS = np.zeros(0, dtype=np.intp)

Question = Callable[[PieceSearch], tuple[float, float]]
"""The bound a piece wants for its cells, and the smallest cell (share of the range) worth cutting for it."""
Progress = Callable[[str, int, int], None]
"""Called with the stage, how many pairs are done and how many there are."""


def sweep(
    mechanism: Mechanism, pairs: Pairs, effort: Effort, progress: Progress, executor: Executor | None = None
) -> SweepResult:
    """Decide every pair over the whole range, then close in on the nearest.

    ``executor``: where distances are measured; default is ``effort.cores`` processes of this machine.
    """
    stock = Stock(mechanism, pairs)
    with bench(stock.solids, effort.cores, executor) as queries:
        return _Sweep(mechanism, stock, effort, progress, queries).run()


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """Cells a piece is to look at, those they were cut from, the bounds they inherit, and whose place they take."""

    piece: PieceSearch
    ids: Ids
    parents: Ids
    inherited: Floats
    replaced: NDArray[np.intp]


class _BudgetSpentError(Exception):
    """The time allowed is over."""


class _Sweep:
    """One run: the searches of all pairs, and the cells they share."""

    def __init__(self, mechanism: Mechanism, stock: Stock, effort: Effort, progress: Progress, queries: Bench) -> None:
        self.mechanism, self.effort, self.progress, self.bench = mechanism, effort, progress, queries
        self.began = time.monotonic()
        self.work = Work()
        self.searches, self.pieces_of = stock.searches, stock.pieces_of
        self.cells = Cells(mechanism)
        self.given_up: Ids = np.zeros(0, dtype=np.intp)

    def run(self) -> SweepResult:
        return self._result(self._stopped_in(self._search))

    def _search(self) -> None:
        self._stage("prove motion", self._prove_motion)
        self._stage("look at rest", self._look_at_rest)
        self._stage("decide", self._decide)
        if not self.effort.decide_only:
            self._stage("close in", self._close_in)

    def _stopped_in(self, do: Callable[[], None]) -> str:
        """Why ``do`` ended early; nothing where it did not."""
        try:
            do()
        except _BudgetSpentError:
            return f"the budget of {self.effort.budget_s:g} s was spent"
        except KeyboardInterrupt:
            return "stopped by hand"
        except BrokenExecutor:
            return "a process that measures distances died, perhaps for want of memory"
        return ""

    def _stage(self, name: str, do: Callable[[], None]) -> None:
        start = time.monotonic()
        try:
            do()
        finally:
            self.work.seconds[name] = round(time.monotonic() - start, 3)

    def _prove_motion(self) -> None:
        """Find cells whose motion is proven, and settle what boxes round the room that parts take can settle."""
        self.roots, self.given_up = self.cells.proven_roots()
        self.swept = SweptBoxes(self.mechanism, self.cells.motion.take(self.roots))
        for search in self.searches:
            whole = PieceSearch(search, search.a, search.b)
            whole.tiling = (self.roots, self.swept.gaps(whole))
            search.pieces = (whole,)

    def _look_at_rest(self) -> None:
        """Measure at rest every pair that may come near, and as many of the others as it takes to know the nearest.

        A pair that boxes keep farther off has the distance of two of its points as its least.
        """
        needed = max((search.pair.required for search in self.searches), default=0.0) + self.effort.interest_mm
        moving = [search for search in self.searches if not search.pair.still]
        near = [search for search in self.searches if search.pair.still and self._bound(search) < needed]
        far = sorted(moving, key=self._bound)
        nearest = np.inf
        while near or (far and self._bound(far[0]) < max(needed, nearest)):
            near, far = near + far[:AT_REST_AT_ONCE], far[AT_REST_AT_ONCE:]
            measure_at_rest(self.mechanism, self.bench, near)
            for search in near:
                if search.pair.still:
                    (whole,) = search.pieces
                    whole.tiling = (self.roots[:1], np.array([search.least - whole.errors]))
            near, found = [], sorted(search.least for search in moving)
            nearest = found[min(NEAREST, len(found)) - 1] if found else np.inf

    def _bound(self, search: PairSearch) -> float:
        """What boxes prove of a pair."""
        return search.proven if len(self.roots) else -np.inf

    def _decide(self) -> None:
        moving = [search for search in self.searches if not search.pair.still]
        self._open(moving, [_required(search) for search in moving])
        self._refine("decide", [search for search in moving if search.opened], _to_decide, DECIDE_AT_ONCE)

    def _close_in(self) -> None:
        ranked = sorted((s for s in self.searches if not s.pair.still and s.least > 0), key=lambda search: search.least)
        near = [
            search
            for rank, search in enumerate(ranked)
            if rank < NEAREST or search.least < search.pair.required + self.effort.interest_mm
        ]
        polish(self.mechanism, self.bench, near)
        self._open(near, [self._to_close_in(search.pieces[0])[0] for search in near])
        self._refine("close in", near, self._to_close_in, BRACKET_AT_ONCE)
        polish(self.mechanism, self.bench, near)

    def _to_close_in(self, piece: PieceSearch) -> tuple[float, float]:
        """The bound that closes the bracket, as near the least as the errors of the surfaces allow."""
        least = piece.search.least
        bracket = max(self.effort.bracket_mm, self.effort.bracket_share * least)
        return least - max(bracket, 1.5 * piece.errors), SMALLEST_CUT

    def _open(self, searches: Sequence[PairSearch], targets: Sequence[float]) -> None:
        """Look at all cells of those whose bound does not reach the target, piece by piece of their parts."""
        openings: list[tuple[PairSearch, list[Opening]]] = []
        for search, target in zip(searches, targets, strict=True):
            if search.proven < target:
                started = [Opening(piece, self.cells, target) for piece in self._pieces(search)]
                openings.append((search, started))
                self._check_budget()
        every = [opening for _, started in openings for opening in started]
        for stride in STRIDES:
            asked = [opening.ask(stride) for opening in every]
            measured = self.bench.look([job for _, job in asked])
            for opening, (rows, _), found in zip(every, asked, measured, strict=True):
                opening.take_in(rows, found)
            self.progress("first look", stride, STRIDES[0])
            self._check_budget()
        for search, started in openings:
            for opening in started:
                opening.piece.tiling = (opening.ids, opening.bounds)
            search.pieces, search.opened = tuple(opening.piece for opening in started), True

    def _pieces(self, search: PairSearch) -> tuple[PieceSearch, ...]:
        """The pieces of a pair that is opened, or to be opened: those start from the bound of the whole."""
        if search.opened:
            return search.pieces
        coarse = search.pieces[0].tiling[1]
        sides = product(self.pieces_of[search.a.solid], self.pieces_of[search.b.solid])
        pieces = tuple(PieceSearch(search, a, b) for a, b in sides)
        for piece in pieces:
            piece.tiling = (self.roots, np.maximum(coarse, self.swept.gaps(piece)))
        return pieces

    def _refine(self, stage: str, searches: Sequence[PairSearch], question: Question, at_once: int) -> None:
        """Cut each piece's lowest cells until the question it is asked has its answer."""
        active = [piece for search in searches for piece in search.pieces]
        while active:
            looks, targets = [], []
            for piece in active:
                target, smallest = question(piece)
                rows = piece.lowest(target, self.cells, smallest, at_once)
                if len(rows):
                    leaves, bounds = piece.tiling
                    looks.append(Look(piece, leaves[rows], leaves[rows], bounds[rows], rows))
                    targets.append(target)
            self._look(self._cut(looks), targets)
            self._check_budget()
            active = [look.piece for look in looks]
            self.progress(stage, len(searches) - len({id(piece.search) for piece in active}), len(searches))

    def _look(self, looks: Sequence[Look], targets: Sequence[float]) -> None:
        visits = [
            look.piece.prepare(self.cells, look.ids, look.parents, look.inherited, target)
            for look, target in zip(looks, targets, strict=True)
        ]
        measured = self.bench.look([visit.job for visit in visits])
        for look, visit, found in zip(looks, visits, measured, strict=True):
            visit.take_in(found, self.cells, look.replaced)

    def _cut(self, looks: Sequence[Look]) -> list[Look]:
        """The looks at the thirds of the cells of ``looks``; each inherits its parent's bound."""
        if not looks:
            return []
        axes = np.concatenate([look.piece.axes(self.cells, look.ids) for look in looks])
        thirds = self.cells.split(np.concatenate([look.ids for look in looks]), axes)
        parts = np.split(thirds, np.cumsum([len(look.ids) for look in looks])[:-1])
        return [
            Look(look.piece, part.reshape(-1), np.repeat(look.ids, 3), np.repeat(look.inherited, 3), look.replaced)
            for look, part in zip(looks, parts, strict=True)
        ]

    def _check_budget(self) -> None:
        if self.effort.budget_s is not None and time.monotonic() - self.began > self.effort.budget_s:
            raise _BudgetSpentError

    def _result(self, stopped: str) -> SweepResult:
        self.work.poses += len(np.unique(self.cells.centre_of))
        self.work.cells, self.work.queries = len(self.cells), self.bench.queries
        self.work.query_seconds = round(self.bench.seconds, 3)
        covered = "prove motion" in self.work.seconds
        for search in self.searches:
            if not np.isfinite(search.least):
                search.found(points_apart(self.mechanism, search), np.zeros(len(self.cells.span)))
        half = self.cells.motion.half[self.given_up]
        share = float(np.prod(2 * half / self.cells.span, axis=1).sum()) if covered else 1.0
        pairs = [judge(search, self.cells, stopped=stopped, given_up=share) for search in self.searches]
        if not stopped:
            stopped = self._stopped_in(lambda: self._stage("show strikes", lambda: self._show_strikes(pairs)))
        return SweepResult(tuple(pairs), self._unreachable(), share, stopped, self.work, self.cells)

    def _show_strikes(self, pairs: list[PairResult]) -> None:
        """For the failing pairs, worst first: the region, the deepest overlap, and the first contact on each way."""
        failing = [index for index, result in enumerate(pairs) if result.verdict is Verdict.FAILS]
        failing.sort(key=lambda index: pairs[index].least - pairs[index].pair.required)
        for index in failing[:STRIKES_SHOWN]:
            self.progress("show strikes", failing.index(index), min(len(failing), STRIKES_SHOWN))
            pairs[index] = show_strike(self.mechanism, self.bench, self.searches[index], pairs[index])

    def _unreachable(self) -> tuple[Unreachable, ...]:
        """The widest of the cells that were given up, one by one; first those whose centre cannot be assembled."""
        width = self.cells.share_of_range(self.given_up)
        widest = self.given_up[np.lexsort((-width, self.cells.reached[self.given_up]))]
        return tuple(
            unreachable(self.mechanism, self.cells.solved(widest[k : k + 1]), 0)
            for k in range(min(UNREACHABLE_TOLD, len(widest)))
        )


def _to_decide(piece: PieceSearch) -> tuple[float, float]:
    """The bound that decides a pair and the smallest cell worth cutting for it; none once it is seen to fail."""
    required = _required(piece.search)
    if piece.search.least - piece.errors < required:
        return -np.inf, 1.0
    return required, SMALLEST_CUT


def _required(search: PairSearch) -> float:
    return max(search.pair.required, TOUCH)
