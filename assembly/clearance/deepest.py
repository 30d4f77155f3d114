"""How deep a pair stands in each other anywhere in the range: cells that may still hold deeper, and two bounds.

As the search for the least clearance: a depth that was found bounds the deepest from below, what ``shape_pairs``
proves of cells bounds it from above, and the cells with the highest bound are cut until the two are near each other.
Where that takes too long, or the motion in a cell cannot be proven, the depth found is told as "at least".
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from assembly.clearance.cells import Ids
from assembly.clearance.distance import Probe
from assembly.clearance.outcome import Effort
from assembly.clearance.outline import Side, box_gaps, boxes
from assembly.clearance.shape_pairs import ShapePair, pairs_of_shapes, seen_from_a
from assembly.geometry.mesh import Floats
from assembly.motion.cell_motion import CellMotion, bound_motion
from assembly.motion.mechanism import Mechanism, Solved
from assembly.motion.solver import solve
from assembly.motion.travel import travel_by_drive

MOST_LOOKS = 900
"""Cells of two shapes that are looked at for one pair of parts."""
MOST_TRIALS = 40
"""Depths of shapes that are not convex, which are found by trying, for one pair of parts."""
AT_ONCE = 16
SMALLEST = 3.0**-8
SMALLEST_TRIED = 3.0**-4
"""Share of a drive's range below which no cell is cut; of shapes that are not convex."""
FIRST_CUTS = 5
POLISH_ROUNDS = 16
POLISH_TRIED = 5
"""Rounds of the walk uphill at the end; for shapes that are not convex."""


@dataclass(frozen=True, slots=True, eq=False)
class Deepest:
    """The setting (d,) at which the pair was found deepest, the depth in mm, and a bound on it anywhere, if proven."""

    at: Floats
    depth: float
    at_most: float | None


@dataclass(frozen=True, slots=True, eq=False)
class _Boxes:
    """Cells of settings: of which shape pair (N,), centre and half-widths (N, d), and the bound on its depth there.

    ``axis`` (N,): the drive that moves the two most in it, along which it is cut.
    """

    which: Ids
    settings: Floats
    half: Floats
    upper: Floats
    axis: Ids

    def __len__(self) -> int:
        return len(self.which)

    def take(self, rows: Ids | NDArray[np.bool_]) -> _Boxes:
        return _Boxes(self.which[rows], self.settings[rows], self.half[rows], self.upper[rows], self.axis[rows])

    def with_more(self, more: _Boxes) -> _Boxes:
        names = ("which", "settings", "half", "upper", "axis")
        return _Boxes(*(np.concatenate([getattr(self, name), getattr(more, name)]) for name in names))

    def thirds(self) -> _Boxes:
        """Every cell cut in three along its axis; all inherit the bound."""
        rows, half = np.arange(len(self)), self.half.copy()
        half[rows, self.axis] /= 3
        away = np.zeros_like(half)
        away[rows, self.axis] = 2 * half[rows, self.axis]
        settings = np.concatenate([self.settings - away, self.settings, self.settings + away])
        return _Boxes(
            np.tile(self.which, 3), settings, np.tile(half, (3, 1)), np.tile(self.upper, 3), np.tile(self.axis, 3)
        )


def _boxes_at(which: int, settings: Floats, half: Floats) -> _Boxes:
    """Cells of one shape pair of which nothing is known."""
    count = len(settings)
    return _Boxes(np.full(count, which), settings, half, np.full(count, np.inf), np.zeros(count, dtype=np.intp))


class DeepestSearch:
    """The search for one pair of parts, ``a`` and ``b`` with their ``probes``. ``check_budget`` may raise."""

    def __init__(
        self,
        mechanism: Mechanism,
        sides: tuple[Side, Side],
        probes: tuple[Probe, Probe],
        effort: Effort,
        check_budget: Callable[[], None],
    ) -> None:
        self.mechanism, self.effort, self.check_budget = mechanism, effort, check_budget
        a, b = sides
        self.pairs = pairs_of_shapes(a, b, *probes)
        self.part_a, self.part_b = a.part, b.part
        drives = list(mechanism.machine.drives.values())
        moving = mechanism.system.drives_between(a.body, b.body)
        self.low = np.array([drive.low if moves else 0.0 for drive, moves in zip(drives, moving, strict=True)])
        self.high = np.array([drive.high if moves else 0.0 for drive, moves in zip(drives, moving, strict=True)])
        self.moving = moving
        self.best, self.at, self.which = 0.0, np.zeros(len(drives)), 0
        self.looks = self.trials = 0
        self.settled = 0.0
        """The highest bound of the cells that need no more cutting."""

    def run(self, starts: Sequence[Floats]) -> Deepest:
        """Search from ``starts``, settings at which the pair is known to meet."""
        first = np.array([np.where(self.moving, start, 0.0) for start in starts])
        for which in range(len(self.pairs)):
            self._look(_boxes_at(which, first, np.zeros_like(first)))
        self._polish()
        left = self._refined(self._first_cells())
        self._polish()
        upper = max(self.settled, float(left.upper.max(initial=0.0)))
        errors = self.pairs[self.which].errors
        closed = upper <= self.best + 1.01 * self._tolerance() + errors
        return Deepest(self.at, self.best, max(upper, self.best + errors) if closed else None)

    def _tolerance(self) -> float:
        return max(self.effort.bracket_mm, self.effort.bracket_share * self.best)

    def _goal(self, pair: ShapePair) -> float:
        """The bound below which a cell needs no more cutting."""
        return self.best + self._tolerance() + pair.errors

    def _first_cells(self) -> _Boxes:
        """Cells that cover the range, for every two shapes that boxes round them do not keep apart there."""
        middle, half = (self.low + self.high) / 2, (self.high - self.low) / 2
        cells = _boxes_at(0, middle[None], half[None])
        motion = bound_motion(self.mechanism, solve(self.mechanism, cells.settings), cells.half)
        for _ in range(FIRST_CUTS):
            if motion.certified.all():
                break
            share = cells.half / np.maximum(self.high - self.low, 1e-12)
            wide = replace(cells, axis=np.asarray(np.argmax(share, axis=1), dtype=np.intp))
            cells = wide.take(motion.certified).with_more(wide.take(~motion.certified).thirds())
            motion = bound_motion(self.mechanism, solve(self.mechanism, cells.settings), cells.half)
        begun = [self._begun(which, cells, motion) for which in range(len(self.pairs))]
        every = cells.take(np.zeros(0, dtype=np.intp))
        for one in begun:
            every = every.with_more(one)
        return every

    def _begun(self, which: int, cells: _Boxes, motion: CellMotion) -> _Boxes:
        """Of all cells those in which two shapes may meet, the bound not known yet."""
        pair, centres = self.pairs[which], self.mechanism.bodies.centres
        first, second = (
            boxes(outline, self.mechanism.world_from_rest(motion.posture, part))
            for outline, part in zip(pair.outlines, (self.part_a, self.part_b), strict=True)
        )
        apart = box_gaps(first, second) - pair.travel(motion, centres) > pair.errors
        near = cells.take(~apart)
        return replace(
            near, which=np.full(len(near), which), axis=self._axes(pair, motion.take(np.flatnonzero(~apart)))
        )

    def _axes(self, pair: ShapePair, motion: CellMotion) -> Ids:
        moved = travel_by_drive(
            motion, pair.body_a, pair.body_b, pair.outlines[0].points, self.mechanism.bodies.centres
        )
        spread = motion.half / np.maximum(self.high - self.low, 1e-12)
        return np.asarray(np.argmax(np.nan_to_num(moved) + 1e-9 * spread, axis=1), dtype=np.intp)

    def _refined(self, pool: _Boxes) -> _Boxes:
        """What is left to be cut once all bounds are near the depth found, or no more cutting is worth it."""
        pool, stuck = self._look(pool), pool.take(np.zeros(0, dtype=np.intp))
        while len(pool) and self.looks < MOST_LOOKS:
            self.check_budget()
            goals = np.array([self._goal(self.pairs[which]) for which in pool.which.tolist()])
            self.settled = max(self.settled, float(pool.upper[pool.upper <= goals].max(initial=0.0)))
            pool = pool.take(pool.upper > goals)
            small = self._too_small(pool)
            stuck, pool = stuck.with_more(pool.take(small)), pool.take(~small)
            chosen = np.zeros(len(pool), dtype=bool)
            chosen[np.argsort(-pool.upper, kind="stable")[:AT_ONCE]] = True
            if chosen.any():
                pool = pool.take(~chosen).with_more(self._look(pool.take(chosen).thirds()))
        return pool.with_more(stuck)

    def _too_small(self, pool: _Boxes) -> NDArray[np.bool_]:
        share = (2 * pool.half / np.maximum(self.high - self.low, 1e-12)).max(axis=1, initial=0.0)
        least = np.array([SMALLEST if self.pairs[which].convex else SMALLEST_TRIED for which in pool.which.tolist()])
        return np.asarray(share <= least)

    def _look(self, cells: _Boxes) -> _Boxes:
        """The cells with bounds as sharp as a look at their centres makes them; what is found is taken note of."""
        if not len(cells):
            return cells
        self.looks += len(cells)
        solved = solve(self.mechanism, cells.settings)
        motion = bound_motion(self.mechanism, solved, cells.half)
        places = self._places(solved)
        upper, axis = cells.upper.copy(), cells.axis.copy()
        for which in np.unique(cells.which).tolist():
            rows = np.flatnonzero((cells.which == which) & solved.reached)
            own = motion.take(rows)
            axis[rows] = self._axes(self.pairs[which], own)
            bounds = self._bounds(which, cells.take(rows), own, places[rows])
            upper[rows] = np.minimum(upper[rows], bounds)
        return replace(cells, upper=upper, axis=axis)

    def _bounds(self, which: int, cells: _Boxes, motion: CellMotion, places: Floats) -> Floats:
        """Bounds (N,) mm on the depth of two shapes in cells, with the ``places`` of b seen from a at their centres."""
        pair, centres = self.pairs[which], self.mechanism.bodies.centres
        upper, ways = cells.upper.copy(), np.zeros((len(cells), 3))
        moved = pair.travel(motion, centres)
        for row, place in enumerate(places):
            depth, ways[row] = self._depth(which, place, cells.settings[row], float(moved[row]))
            upper[row] = min(upper[row], max(depth + moved[row], 0.0) + pair.errors)
        turned = np.einsum("nij,nj->ni", motion.posture.rotations[:, pair.body_a], ways)
        upper = np.minimum(upper, np.maximum(pair.hull_bounds(motion, turned, centres), 0.0))
        if not pair.convex:
            for row, place in enumerate(places):
                upper[row] = self._freed(pair, place, float(moved[row]), ways[row], float(upper[row]))
        return upper

    def _places(self, solved: Solved) -> Floats:
        """Places (N, 4, 4) of b as a sees it."""
        first, second = (self.mechanism.world_from_rest(solved.posture, part) for part in (self.part_a, self.part_b))
        return seen_from_a(first, second)

    def _depth(self, which: int, place: Floats, setting: Floats, moved: float) -> tuple[float, Floats]:
        """A bound on the depth at one place of b seen from a, and the way out that gives it; exact where it matters."""
        pair = self.pairs[which]
        far, way = pair.quick(place)
        if far <= 0 or far + moved + pair.errors <= self._goal(pair):
            return far, way
        far, way = pair.hulls_deep(place)
        if pair.convex:
            self._found(which, far, setting)
        elif far > self.best + self._tolerance() and self.trials < MOST_TRIALS:
            self.trials += 1
            tried = pair.deep(place)
            if tried is not None:
                self._found(which, tried[0], setting)
        return far, way

    def _freed(self, pair: ShapePair, place: Floats, moved: float, way: Floats, upper: float) -> float:
        """A lower bound where a shift frees two shapes all through a cell, which their hulls do not tell."""
        if upper <= self._goal(pair) or not np.isfinite(moved):
            return upper
        enough = self.best + self._tolerance() / 2
        return next((shift for shift in (0.0, enough) if pair.free_all_through(place, moved, shift, way)), upper)

    def _found(self, which: int, depth: float, setting: Floats) -> None:
        if depth > self.best:
            self.best, self.at, self.which = depth, setting.copy(), which

    def _polish(self) -> None:
        """Walk uphill from the deepest setting found."""
        pair = self.pairs[self.which]
        step = (self.high - self.low) / 27
        for _ in range(POLISH_ROUNDS if pair.convex else POLISH_TRIED):
            self.check_budget()
            moves = np.concatenate([np.diag(step), -np.diag(step)])[np.tile(self.moving, 2)]
            before, tried = self.best, np.unique(np.clip(self.at + moves, self.low, self.high), axis=0)
            solved = solve(self.mechanism, tried)
            first, second = (
                self.mechanism.world_from_rest(solved.posture, part) for part in (self.part_a, self.part_b)
            )
            for place, setting, reached in zip(seen_from_a(first, second), tried, solved.reached, strict=True):
                if reached:
                    depth = pair.hulls_deep(place) if pair.convex else pair.deep(place)
                    self._found(self.which, depth[0] if depth else 0.0, setting)
            if self.best <= before:
                step = step / 3
