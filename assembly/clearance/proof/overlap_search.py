"""How deep a pair stands in each other anywhere in the range: cells that may still hold deeper, and two bounds.

As the search for the least clearance: a depth that was found bounds the deepest from below, what ``shape_pairs``
proves of cells bounds it from above, and the cells with the highest bound are cut until the two are near each other.
Where that takes too long, or the motion in a cell cannot be proven, the depth found is reported as "at least".
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.narrow_phase.queries import Bench
from assembly.clearance.proof.cells import Cells
from assembly.clearance.proof.pair_search import PairSearch
from assembly.clearance.proof.refiner import Children, Tiling, refine
from assembly.clearance.proof.shape_pairs import ShapePair
from assembly.geometry.mesh import Floats, Ids
from assembly.kinematics.array_stacks import stacked
from assembly.kinematics.solver import solve

MOST_LOOKS = 2500
"""Cells of two shapes that are looked at for one pair of parts."""
MOST_TRIALS = 24
"""Depths of shapes that are not convex, which are found by trying, for one pair of parts."""
AT_ONCE = 24
SMALLEST = 3.0**-8
SMALLEST_TRIED = 3.0**-4
"""Share of a drive's range below which no cell is cut; of shapes that are not convex."""
LOCAL_SEARCH_ROUNDS = 16
LOCAL_SEARCH_TRIED = 4
"""Rounds of the walk uphill at the end; for shapes that are not convex."""


@dataclass(frozen=True, slots=True, eq=False)
class Deepest:
    """The setting (d,) at which the pair was found deepest, the depth in mm, and a bound on it anywhere, if proven."""

    at: Floats
    depth: float
    at_most: float | None


@dataclass(frozen=True, slots=True, eq=False)
class _Figures:
    """Of N cells: the shape pair ``which`` that each is looked at for, and bounds ``upper`` mm on its depth there."""

    which: Ids
    upper: Floats


class DeepestSearch:
    """The search for one pair of parts over its ``cells``: those with the highest bounds are cut."""

    def __init__(
        self, search: PairSearch, cells: Cells, bench: Bench, effort: Effort, check_budget: Callable[[], None]
    ) -> None:
        self.mechanism, self.cells, self.effort, self.check_budget = cells.mechanism, cells, effort, check_budget
        self.pairs = [
            ShapePair(one, bench.collision_models[one.a.solid], bench.collision_models[one.b.solid])
            for one in search.pieces
        ]
        self.best, self.at, self.which = 0.0, np.zeros(len(cells.span)), 0
        self.looks = self.trials = 0
        self.tiling = Tiling(np.zeros(0, dtype=np.intp), _Figures(np.zeros(0, dtype=np.intp), np.zeros(0)))

    def run(self, starts: Floats) -> Deepest | None:
        """Search, first at ``starts`` (N, d); None where no two shapes are seen to meet."""
        self.pairs = [pair for pair in self.pairs if pair.may_meet(self.mechanism)]
        if not self.pairs:
            return None
        cut = np.isin(np.arange(starts.shape[1]), self.cells.drives)
        self._sample(np.where(cut, starts, 0.0))
        self._local_search()
        self.tiling = self._leaves()
        refine([self], lambda _: self.check_budget())
        self._local_search()
        if self.best <= 0:
            return None
        upper, errors = float(self.tiling.figures.upper.max(initial=0.0)), self.pairs[self.which].errors
        closed = upper <= self.best + 1.01 * self._tolerance() + errors and not len(self.cells.unresolved)
        return Deepest(self.at, self.best, max(upper, self.best + errors) if closed else None)

    def _tolerance(self) -> float:
        return max(self.effort.bracket_mm, self.effort.bracket_share * self.best)

    def _goal(self, pair: ShapePair) -> float:
        """The bound below which a cell needs no more cutting."""
        return self.best + self._tolerance() + pair.errors

    def _sample(self, settings: Floats) -> None:
        """Look at single settings, the deepest of the hulls first."""
        solved = solve(self.mechanism, settings)
        rows = np.flatnonzero(solved.reached)
        posture = solved.posture.take(rows)
        seen = []
        for which, pair in enumerate(self.pairs):
            places = pair.places(self.mechanism, posture)
            seen += [(far, which, k, places[k]) for k, far in enumerate(pair.quick(places)[0].tolist())]
        for far, which, k, place in sorted(seen, key=lambda one: -one[0]):
            if far > self.best + self._tolerance():
                self._measure(which, place, settings[rows[k]])

    def _leaves(self) -> Tiling[_Figures]:
        """Cells in which the shapes of each pair are not proven to stay apart, with bounds from a few directions."""
        tilings = []
        for which, pair in enumerate(self.pairs):
            tiling = pair.piece.tiling
            ids = tiling.ids[tiling.figures.lower <= 0]
            places = pair.places(self.mechanism, self.cells.solved(ids).posture)
            upper = pair.quick(places)[0] + pair.travel(self.cells, ids) + pair.errors
            tilings.append(Tiling(ids, _Figures(np.full(len(ids), which), upper)))
        return stacked(*tilings)

    def to_cut(self) -> Ids:
        """The cells with the highest bounds, those of one shape pair together."""
        ids, figures = self.tiling.ids, self.tiling.figures
        goals = np.array([self._goal(pair) for pair in self.pairs])
        least = np.array([SMALLEST if pair.convex else SMALLEST_TRIED for pair in self.pairs])
        open_ = (figures.upper > goals[figures.which]) & (self.cells.share_of_range(ids) > least[figures.which])
        rows = np.flatnonzero(open_ & (self.looks < MOST_LOOKS))
        rows = rows[np.argsort(-figures.upper[rows], kind="stable")[:AT_ONCE]]
        return rows[np.argsort(figures.which[rows], kind="stable")]

    def axes(self, rows: Ids) -> Ids:
        """The drive that moves the two shapes against each other most."""
        axes, own = np.zeros(len(rows), dtype=np.intp), self.tiling.figures.which[rows]
        for which in np.unique(own).tolist():
            axes[own == which] = self.pairs[which].piece.axes(self.cells, self.tiling.ids[rows[own == which]])
        return axes

    def bounded(self, children: Children[_Figures]) -> _Figures:
        """The bounds of cells that are cut out of others."""
        which, upper = children.inherited.which, children.inherited.upper.copy()
        self.looks += len(which)
        for number in np.unique(which).tolist():
            own = which == number
            upper[own] = self._looked_at(number, children.ids[own], upper[own])
        return _Figures(which, upper)

    def _looked_at(self, which: int, ids: Ids, upper: Floats) -> Floats:
        """The bounds ``upper`` (n,) of the cells ``ids`` of one shape pair, lowered by what is seen there."""
        pair = self.pairs[which]
        moved, places = pair.travel(self.cells, ids), pair.places(self.mechanism, self.cells.solved(ids).posture)
        far, ways = pair.quick(places)
        for row in np.flatnonzero((far > 0) & (far + moved + pair.errors > self._goal(pair)) & self.cells.reached[ids]):
            far[row], ways[row] = self._measure(which, places[row], self.cells.settings[ids[row]])
        upper = np.minimum(upper, np.maximum(far + moved, 0.0) + pair.errors)
        upper = np.minimum(upper, np.maximum(pair.hull_bounds(self.cells, ids, ways), 0.0))
        if pair.convex:
            return upper
        return np.array([self._freed(pair, *each) for each in zip(places, moved, upper, strict=True)])

    def _measure(self, which: int, place: Floats, setting: Floats) -> tuple[float, Floats]:
        """The depth of the hulls at one place of b seen from a, and their way out; the depth found is taken note of."""
        pair = self.pairs[which]
        far, way = pair.hulls_deep(place)
        if pair.convex:
            self._found(which, far, setting)
        elif far > self.best + self._tolerance() and self.trials < MOST_TRIALS:
            self.trials += 1
            tried = pair.deep(place)
            self._found(which, tried[0] if tried else 0.0, setting)
        return far, way

    def _freed(self, pair: ShapePair, place: Floats, moved: float, upper: float) -> float:
        """A lower bound where a shift frees two shapes all through a cell, which their hulls do not tell."""
        if upper <= self._goal(pair) or not np.isfinite(moved):
            return upper
        enough = self.best + self._tolerance() / 2
        return next((shift for shift in (0.0, enough) if pair.free_all_through(place, moved, shift)), upper)

    def _found(self, which: int, depth: float, setting: Floats) -> None:
        if depth > self.best:
            self.best, self.at, self.which = depth, setting.copy(), which

    def _local_search(self) -> None:
        """Walk uphill from the deepest setting found."""
        pair, drives = self.pairs[self.which], list(self.cells.drives)
        step = np.eye(len(self.at))[drives] * self.cells.span / 27
        ends = np.array([[drive.low, drive.high] for drive in self.mechanism.machine.drives.values()])
        low, high = np.where(step.any(axis=0), ends.T, 0.0)
        for _ in range(LOCAL_SEARCH_ROUNDS if pair.convex else LOCAL_SEARCH_TRIED):
            self.check_budget()
            before, tried = self.best, np.unique(np.clip(self.at + np.concatenate([step, -step]), low, high), axis=0)
            solved = solve(self.mechanism, tried)
            for row in np.flatnonzero(solved.reached):
                (place,) = pair.places(self.mechanism, solved.posture.take(np.array([row])))
                depth = pair.hulls_deep(place) if pair.convex else pair.deep(place)
                self._found(self.which, depth[0] if depth else 0.0, tried[row])
            if self.best <= before:
                step = step / 3
