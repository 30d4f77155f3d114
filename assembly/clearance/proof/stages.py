"""The searches of a sweep, and how far they can be taken: bounded by boxes, measured at rest, decided, closed in on."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import product

import numpy as np

from assembly.clearance.narrow_phase.checked_pairs import CheckedPair, Exclusion
from assembly.clearance.narrow_phase.distance import CollisionModel
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.narrow_phase.queries import Bench
from assembly.clearance.proof.at_rest import measure_at_rest
from assembly.clearance.proof.cached import Depth
from assembly.clearance.proof.cell_groups import CellGroups
from assembly.clearance.proof.cells import Cells
from assembly.clearance.proof.far_apart import FarApart
from assembly.clearance.proof.local_search import local_search
from assembly.clearance.proof.lower_bound import Bounds, Method, lower_bound
from assembly.clearance.proof.pair_search import PairSearch, PieceSearch
from assembly.clearance.proof.pair_state import PairState
from assembly.clearance.proof.piece_questions import PieceQuestion, PieceRefinement, Wanted, cut_rolls
from assembly.clearance.proof.product_cells import lowest_product
from assembly.clearance.proof.refiner import Progress, Tiling, refine_measured
from assembly.clearance.proof.sampling import measure_open
from assembly.clearance.proof.seeding import Seeding, seeding
from assembly.clearance.proof.solid_table import SolidTable, SweptBoxes
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.travel import STILL

DECIDE_AT_ONCE = 4096
BRACKET_AT_ONCE = 96
"""Cells that one pair cuts in one round; few while closing in, so that the best found so far can prune."""
SMALLEST_CUT = 3.0**-9
"""Share of a drive's range below which no cell is cut: the pair stays undecided there."""
TOUCH = 1e-6
"""mm: a pair that need keep no clearance must still not touch."""


class SearchStages:
    """Searches of pairs of ``solid_table`` on ``bench``. ``check_budget`` is called between rounds and may raise."""

    def __init__(
        self,
        groups: CellGroups,
        solid_table: SolidTable,
        bench: Bench,
        effort: Effort,
        progress: Progress,
        check_budget: Callable[[], None],
    ) -> None:
        self.solid_table, self.bench, self.effort = solid_table, bench, effort
        self.progress, self.check_budget = progress, check_budget
        self.groups = groups
        self._swept: dict[Cells, SweptBoxes] = {}
        """Boxes round the space that solids take in the roots of cells, at any roll."""
        self._far = FarApart(groups, solid_table, self._boxes, effort)

    def tell_far(self, states: Sequence[PairState]) -> None:
        """Take those pairs for known that no search need look at: of two independent groups, and far apart."""
        asked = [state for state in states if state.search is None and self.may_be_far(state.pair)]
        for state, known in zip(asked, self._far.known([state.pair for state in asked]), strict=True):
            if known is not None:
                state.known, state.searched = known, True

    def may_be_far(self, pair: CheckedPair) -> bool:
        """Whether a pair is of two independent groups, and not one that is asked for."""
        mechanism = self.groups.mechanism
        a, b = mechanism.system.groups[[mechanism.bodies.body_of[pair.a], mechanism.bodies.body_of[pair.b]]]
        return bool(a != b and a >= 0 and b >= 0) and not self.effort.asks_for(pair)

    def to_depth(self, states: Sequence[PairState]) -> None:
        """Search pairs that were known, as far as their depth."""
        self.wake(states)
        self.measure_at_rest([state for state in states if state.depth is not Depth.APART])
        self.decide([state for state in states if not state.pair.rigidly_coupled])
        self.close_in([state for state in states if state.depth is Depth.CLOSED_IN])

    def wake(self, states: Sequence[PairState]) -> None:
        """Begin to search pairs."""
        self.make_ready(states)
        self.bound_by_boxes(states)

    def make_ready(self, states: Sequence[PairState]) -> None:
        """Searches for pairs, and the solids that they need."""
        searches = self.solid_table.add(state.pair for state in states)
        self.bench.add(self.solid_table.solids[len(self.bench.collision_models) :])
        for state, search in zip(states, searches, strict=True):
            state.search, state.found, state.searched = search, None, True

    @property
    def collision_models(self) -> dict[Exclusion, CollisionModel]:
        """Each part, as pairs see it, that was made ready; one may not be where that was cut short."""
        ready = self.bench.collision_models
        return {trim: ready[number] for trim, number in self.solid_table.numbers.items() if number < len(ready)}

    def bound_by_boxes(self, states: Sequence[PairState]) -> None:
        """Bound pairs by boxes round all the space that their parts can take."""
        for state, search in zip(states, _searches(states), strict=True):
            whole = PieceSearch(search, search.a, search.b, search.rolls)
            if not self._bound_by_products(whole):
                self._bound_by_roots(whole)
            search.pieces = (whole,)  # not before: a piece that time left without cells would bound nothing from below
            state.bound = search.proven if len(whole.tiling) else -np.inf

    def _bound_by_products(self, whole: PieceSearch) -> bool:
        """Bound a pair by the cells of either part alone; whether that can be done."""
        bodies, filled = whole.search.reduced.bodies, whole.at_any_roll()
        each = self.groups.of_each(*(int(bodies[body]) for body in whole.bodies))
        if each is None or filled is None:
            return False
        sides = zip((filled.a, filled.b), each, strict=True)
        whole.product, bound = lowest_product(*(self._boxes(own.cells).swept(side, own) for side, own in sides))
        whole.tiling = Tiling(np.zeros(1, dtype=np.intp), bound)
        return True

    def _bound_by_roots(self, whole: PieceSearch) -> None:
        """Bound a pair in cells over all drives that move its parts against each other."""
        cells = self.cells_of(whole)
        whole.product, whole.tiling = None, Tiling(cells.roots, *self._boxes(cells).bounds([whole]))

    def _is_below(self, search: PairSearch, target: float) -> bool:
        """Whether a pair's bound does not reach ``target``, in cells over all its drives if need be."""
        if search.proven < target and search.apart:
            self._bound_by_roots(search.pieces[0])
        return search.proven < target

    def unresolved_share(self, search: PairSearch) -> float:
        """No more than this share of the range of the drives that move a pair could not be proven."""
        return 0.0 if search.apart else self.cells_of(search).unresolved_share()

    def measure_at_rest(self, states: Sequence[PairState]) -> None:
        """Measure pairs at rest; that settles those that never move against each other."""
        searches = _searches(states)
        for mechanism, own in self._by_rolls(searches):
            measure_at_rest(mechanism, self.bench, own)
        for state, search in zip(states, searches, strict=True):
            state.at_rest = search.least
            if state.pair.rigidly_coupled:
                (whole,) = search.pieces
                whole.tiling = self._coupled_bound(whole)

    def _coupled_bound(self, whole: PieceSearch) -> Tiling[Bounds]:
        """One cell, if there is any, that stands for all, with what was measured at rest."""
        root, cells = whole.tiling.ids[:1], self.cells_of(whole)
        least = np.full(len(root), whole.search.least)
        rounding = whole.rounding(cells.motion_of(root, whole.bodies))
        return Tiling(root, lower_bound(Method.AT_REST, least, STILL, whole.surface_error, rounding))

    def cells_of(self, piece: PieceSearch | PairSearch) -> Cells:
        """The cells over the drives, and the rolls, that move the two of a piece against each other."""
        search = piece.search if isinstance(piece, PieceSearch) else piece
        return self.groups.within(search.reduced).rolled(piece.rolls).between(piece.a.body, piece.b.body)

    def have_cells(self, search: PairSearch) -> bool:
        """Whether the cells of a pair are made by now."""
        return self.groups.within(search.reduced).are_made(search.rolls, search.a.body, search.b.body)

    def _boxes(self, cells: Cells) -> SweptBoxes:
        alone, roots = cells.of_drives(cells.roots)
        if alone not in self._swept:
            self._swept[alone] = SweptBoxes(alone.mechanism, alone.motion.take(roots))
        return self._swept[alone]

    def open(self, searches: Sequence[PairSearch], targets: Sequence[float]) -> None:
        """Look at all cells of those whose bound does not reach the target, piece by piece of their parts."""
        opened: list[tuple[PairSearch, tuple[PieceSearch, ...]]] = []
        first: list[Seeding] = []
        for search, target in zip(searches, targets, strict=True):
            if self._is_below(search, target):
                opened.append((search, self._pieces(search)))
                for piece in opened[-1][1]:
                    cells = self.cells_of(piece)
                    cut_rolls(piece, cells, target)
                    if piece.proven < target:
                        first.append(seeding(piece, cells, target))
                self.check_budget()
        self.bench.add(self.solid_table.solids[len(self.bench.collision_models) :])
        refine_measured(first, self.bench, self._after_round("first look", len(searches)))
        for search, pieces in opened:
            search.pieces, search.opened = pieces, True

    def _pieces(self, search: PairSearch) -> tuple[PieceSearch, ...]:
        """The pieces of a pair that is opened, or to be opened: those start from the bound of the whole."""
        if search.opened:
            return search.pieces
        coarse = search.pieces[0].tiling.figures
        sides = product(self.solid_table.pieces(search.a), self.solid_table.pieces(search.b))
        pieces = tuple(PieceSearch(search, a, b, self.solid_table.rolls_between(a, b)) for a, b in sides)
        for boxes in dict.fromkeys(own := [self._boxes(self.cells_of(piece)) for piece in pieces]):
            alike = [piece for piece, of in zip(pieces, own, strict=True) if of is boxes]
            for piece, boxed in zip(alike, boxes.bounds(alike), strict=True):
                better = coarse.raised(np.arange(len(boxed)), boxed) if piece.rolls == search.rolls else boxed
                piece.tiling = Tiling(self.cells_of(piece).roots, better)
        return pieces

    def _after_round(self, stage: str, count: int) -> Callable[[Sequence[PieceQuestion]], None]:
        """What is done after each round of a stage in which ``count`` pairs are searched."""

        def after_round(active: Sequence[PieceQuestion]) -> None:
            self.check_budget()
            self.progress(stage, count - len({id(one.piece.search) for one in active}), count)

        return after_round

    def _to_refine(self, searches: Sequence[PairSearch], wanted: Wanted, at_once: int) -> list[PieceRefinement]:
        """Questions by which each piece's lowest cells, ``at_once`` a round, are cut until it has what is wanted."""
        pieces = [piece for search in searches for piece in search.pieces if piece.product is None]
        return [PieceRefinement(piece, self.cells_of(piece), wanted, at_once) for piece in pieces]

    def decide(self, states: Sequence[PairState]) -> None:
        """Cut the range until each pair is proven to keep its clearance or seen not to; measure those left open."""
        searches = _searches(states)
        self.open(searches, [self._wanted(search) for search in searches])
        opened = [search for search in searches if search.opened]
        questions = self._to_refine(opened, self._to_decide, DECIDE_AT_ONCE)
        refine_measured(questions, self.bench, self._after_round("decide", len(opened)))
        left_open = [search for search in searches if self._left_open(search)]
        if left_open:
            self.progress("look at what is open", 0, len(left_open))
            measure_open(self.bench, left_open, self.cells_of, self.check_budget)
        for state, search in zip(states, searches, strict=True):
            state.decided = search.least

    def _left_open(self, search: PairSearch) -> bool:
        """Whether a pair is not proven over the whole range, so that it may come nearer than was seen."""
        if search.contained or search.least <= 0 or search.apart:
            return False
        unresolved = self.cells_of(search).unresolved
        required = required_of(search.pair)
        return bool(len(unresolved)) or (search.least >= required and search.proven < required)

    def close_in(self, states: Sequence[PairState]) -> None:
        """Cut the range until the two bounds of each pair are near each other."""
        searches = _searches(states)
        for mechanism, own in self._by_rolls(searches):
            local_search(mechanism, self.bench, own)
        self.open(searches, [self._to_close_in(search.pieces[0])[0] for search in searches])
        questions = self._to_refine(searches, self._to_close_in, BRACKET_AT_ONCE)
        refine_measured(questions, self.bench, self._after_round("close in", len(searches)))
        for mechanism, own in self._by_rolls(searches):
            local_search(mechanism, self.bench, own)

    def _by_rolls(self, searches: Sequence[PairSearch]) -> Iterator[tuple[Mechanism, list[PairSearch]]]:
        """The searches whose settings have the same columns, with the machine that has them."""
        alike: dict[Mechanism, list[PairSearch]] = {}
        for search in searches:
            groups = self.groups.within(search.reduced).rolled(search.rolls)
            alike.setdefault(groups.mechanism, []).append(search)
        yield from alike.items()

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


def _searches(states: Iterable[PairState]) -> list[PairSearch]:
    return [state.search for state in states if state.search is not None]


def required_of(pair: CheckedPair) -> float:
    """The clearance in mm that a pair must keep, touching never being allowed."""
    return max(pair.required, TOUCH)
