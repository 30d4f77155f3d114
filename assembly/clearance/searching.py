"""The searches of a sweep, and how far they can be taken: bounded by boxes, measured at rest, decided, closed in on."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence

import numpy as np

from assembly.clearance.cell_groups import CellGroups
from assembly.clearance.cells import Ids
from assembly.clearance.course import Course
from assembly.clearance.cutting import Cutting, Progress
from assembly.clearance.known import Depth
from assembly.clearance.lower_bound import Bounds, Method
from assembly.clearance.outcome import Effort
from assembly.clearance.pairs import CheckedPair
from assembly.clearance.polish import polish
from assembly.clearance.queries import Bench
from assembly.clearance.rest import measure_at_rest
from assembly.clearance.sampling import measure_open
from assembly.clearance.search import PairSearch, PieceSearch
from assembly.clearance.stock import Stock
from assembly.motion.mechanism import Mechanism
from assembly.motion.travel import STILL

DECIDE_AT_ONCE = 4096
BRACKET_AT_ONCE = 96
"""Cells that one pair cuts in one round; few while closing in, so that the best found so far can prune."""
SMALLEST_CUT = 3.0**-9
"""Share of a drive's range below which no cell is cut: the pair stays undecided there."""
TOUCH = 1e-6
"""mm: a pair that need keep no clearance must still not touch."""


class Searching:
    """Searches of pairs of ``stock`` on ``bench``. ``check_budget`` is called between rounds and may raise."""

    def __init__(
        self,
        groups: CellGroups,
        stock: Stock,
        bench: Bench,
        effort: Effort,
        progress: Progress,
        check_budget: Callable[[], None],
    ) -> None:
        self.stock, self.bench, self.effort = stock, bench, effort
        self.progress, self.check_budget = progress, check_budget
        self.cutting = Cutting(groups, stock, bench, progress, check_budget)

    def to_depth(self, courses: Sequence[Course]) -> None:
        """Search pairs that were known, as far as their depth."""
        self.wake(courses)
        self.measure_at_rest([course for course in courses if course.depth is not Depth.APART])
        self.decide([course for course in courses if not course.pair.still])
        self.close_in([course for course in courses if course.depth is Depth.CLOSED_IN])

    def wake(self, courses: Sequence[Course]) -> None:
        """Begin to search pairs."""
        self.make_ready(courses)
        for course in courses:
            self.begin(course)

    def make_ready(self, courses: Sequence[Course]) -> None:
        """Searches for pairs, and the solids that they need."""
        searches = self.stock.add(course.pair for course in courses)
        self.bench.add(self.stock.solids[len(self.bench.probes) :])
        for course, search in zip(courses, searches, strict=True):
            course.search, course.found = search, None

    def begin(self, course: Course) -> None:
        """Bound a pair by boxes."""
        (search,) = _searches([course])
        self.cutting.begin(search)
        course.bound = search.proven if len(search.pieces[0].tiling[0]) else -np.inf

    def measure_at_rest(self, courses: Sequence[Course]) -> None:
        """Measure pairs at rest; that settles those that never move against each other."""
        searches = _searches(courses)
        for mechanism, own in self._by_rolls(searches):
            measure_at_rest(mechanism, self.bench, own)
        for course, search in zip(courses, searches, strict=True):
            course.at_rest = search.least
            if course.pair.still:
                (whole,) = search.pieces
                whole.tiling = self._never_nearer(whole)

    def _never_nearer(self, whole: PieceSearch) -> tuple[Ids, Bounds]:
        """One cell, if there is any, that stands for all, with what was measured at rest."""
        root, cells = whole.tiling[0][:1], self.cutting.cells_of(whole)
        least = np.full(len(root), whole.search.least)
        rounding = whole.rounding(cells.mechanism, cells.motion.take(root))
        return root, whole.bounds(Method.AT_REST, least, STILL, rounding)

    def decide(self, courses: Sequence[Course]) -> None:
        """Cut the range until each pair is proven to keep its clearance or seen not to; measure those left open."""
        searches = _searches(courses)
        self.cutting.open(searches, [self._wanted(search) for search in searches])
        opened = [search for search in searches if search.opened]
        self.cutting.refine("decide", opened, self._to_decide, DECIDE_AT_ONCE)
        left_open = [search for search in searches if self._left_open(search)]
        if left_open:
            self.progress("look at what is open", 0, len(left_open))
            measure_open(self.bench, left_open, self.cutting.cells_of, self.check_budget)
        for course, search in zip(courses, searches, strict=True):
            course.decided = search.least

    def _left_open(self, search: PairSearch) -> bool:
        """Whether a pair is not proven over the whole range, so that it may come nearer than was seen."""
        if search.swallowed or search.least <= 0:
            return False
        given_up = self.cutting.cells_of(search).given_up
        required = required_of(search.pair)
        return bool(len(given_up)) or (search.least >= required and search.proven < required)

    def close_in(self, courses: Sequence[Course]) -> None:
        """Cut the range until the two bounds of each pair are near each other."""
        searches = _searches(courses)
        self._polish(searches)
        self.cutting.open(searches, [self._to_close_in(search.pieces[0])[0] for search in searches])
        self.cutting.refine("close in", searches, self._to_close_in, BRACKET_AT_ONCE)
        self._polish(searches)

    def _polish(self, searches: Sequence[PairSearch]) -> None:
        for mechanism, own in self._by_rolls(searches):
            polish(mechanism, self.bench, own)

    def _by_rolls(self, searches: Sequence[PairSearch]) -> Iterator[tuple[Mechanism, list[PairSearch]]]:
        """The searches whose settings have the same columns, with the machine that has them."""
        for rolls in dict.fromkeys(search.rolls for search in searches):
            own = [search for search in searches if search.rolls == rolls]
            yield self.cutting.groups.rolled(rolls).mechanism, own

    def _to_decide(self, piece: PieceSearch) -> tuple[float, float]:
        """The bound that decides a pair and the smallest cell worth cutting for it; none once it is seen to fail."""
        if piece.search.least - piece.errors < required_of(piece.search.pair):
            return -np.inf, 1.0
        return self._wanted(piece.search), SMALLEST_CUT

    def _wanted(self, search: PairSearch) -> float:
        """The bound in mm that a pair needs: where it is not seen to come near, that it does not."""
        required = required_of(search.pair)
        if self.effort.decide_only or search.least < self.effort.near(required, search.surface_error):
            return required
        return required + self.effort.interest_mm

    def _to_close_in(self, piece: PieceSearch) -> tuple[float, float]:
        """The bound that closes the bracket, as near the least as the errors of the surfaces allow."""
        least = piece.search.least
        return least - self.effort.bracket(least, piece.errors), SMALLEST_CUT


def _searches(courses: Iterable[Course]) -> list[PairSearch]:
    return [course.search for course in courses if course.search is not None]


def required_of(pair: CheckedPair) -> float:
    """The clearance in mm that a pair must keep, touching never being allowed."""
    return max(pair.required, TOUCH)
