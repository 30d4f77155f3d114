"""Bounds on the motions of joints over the whole range, closed in on by cutting the range into the sweep's cells.

Every motion starts from the cells over the drives that move its two parts, as far as they are proven; those whose
bounds lie outside of what was found by more than the bracket are cut, farthest first. Angles that may pass half a turn
are distinguished by whole turns: from rest on, cell by touching cell, none of which lets them turn as far as a quarter.
What was found and what is proven hold over the cells whose motion is proven; the sweep tells the others as places that
cannot be reached.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field

import numpy as np

from assembly.clearance.narrow_phase.pair_result import Setting, Verdict
from assembly.clearance.proof.cell_groups import CellGroups
from assembly.clearance.proof.cells import Cells
from assembly.clearance.proof.first_settings import first_settings
from assembly.clearance.proof.joint_turns import followed, nearest_cells
from assembly.clearance.proof.motion_bounds import (
    BoundTerms,
    MotionBounds,
    bounds_over,
    first_bounds,
    governing,
    within_a_turn,
)
from assembly.clearance.proof.reduced_motion import ReducedMotion, reduced_motion
from assembly.clearance.proof.refiner import Children, Tiling, refine
from assembly.errors import TimeLimitError
from assembly.geometry.mesh import Flags, Floats, Ids
from assembly.kinematics.joint_motion import JointMotion, nearest_turn
from assembly.kinematics.mechanism import Mechanism, Solved
from assembly.kinematics.solver import follow_or_restart, solve

BRACKET = 0.1
"""degrees or mm: how near what is proven comes to what was found."""
MOST_CHILDREN = 20_000
"""Cells that may be cut out of others, whether or not a sweep has cut them before."""
AT_ONCE = 48
"""Cells cut for one motion in one round."""
SMALLEST_CUT = 3.0**-8
"""Share of a drive's range below which no cell is cut."""
GRAIN = 1e-6
"""degrees or mm: a limit passed by less is kept."""

Limits = tuple[float | None, float | None]
"""Lowest and highest that a motion may reach; None where nothing limits it."""


@dataclass(frozen=True, slots=True, eq=False)
class Extremes:
    """One motion over the range: least and most found, where, and the bounds proven to hold at every setting.

    ``looked_at`` (N,): its values at the search's ``seen`` settings, NaN where the motion is not proven: what
    a joint does there is not known, not even by how many half turns. ``governs``: the cell and the terms of either
    bound, least and most, of motions that keep them.
    """

    least: float
    most: float
    at_least: Setting
    at_most: Setting
    proven_least: float
    proven_most: float
    looked_at: Floats
    governs: tuple[BoundTerms, BoundTerms] | None = None


@dataclass(slots=True, eq=False)
class JointSearch:
    """The cells that motions share, and the settings that are looked at first: those ``seen`` of ``settings``.

    ``seen`` can be reached. ``children_left`` more cells may be asked of the ``groups``.
    """

    mechanism: Mechanism
    groups: CellGroups
    settings: int
    seen: Solved
    children_left: int
    served: dict[int, tuple[Verdict, Setting]] = field(default_factory=dict)
    """Whether some roll serves each rod that was asked about, by the number of its roll (``rod_search``)."""
    stopped: str = ""
    """Why not all was bounded as far as it could be, where the time was over before."""

    def extremes(
        self, motions: Sequence[tuple[JointMotion, Limits]], bracket: float = BRACKET
    ) -> list[Extremes | None]:
        """Extremes of each of ``motions``, given with their limits.

        Each is closed in on to the ``bracket``, in its unit, and one that has a limit until that is decided, or the
        cells get too small or too many.
        Where no cell's motion is proven, or the time is over too soon, bounds are infinite; None where nothing was seen
        either.
        """
        with self.in_time():
            every = [(reduced_motion(self.groups, motion), limits) for motion, limits in motions]
            known = [one for one in every if len(one[0].cells.roots)]
            turns = [
                _TurnCount(self, one, one.motion, one.cells, first_bounds(one.motion, one.cells)) for one, _ in known
            ]
            refine(turns)
            searches = [
                _Range(self, one, one.motion, one.cells, _told_apart(count), limits, bracket)
                for count, (one, limits) in zip(turns, known, strict=True)
            ]
            values = [search.look() for search in searches]
            with self.in_time():
                refine(searches)
            found = (search.extremes(seen) for search, seen in zip(searches, values, strict=True))
            proven = [len(one.cells.roots) > 0 for one, _ in every]
            asked = zip(motions, proven, strict=True)
            return [next(found) if is_proven else self._only_seen(motion) for (motion, _), is_proven in asked]
        return [self._only_seen(motion) for motion, _ in motions]

    @contextmanager
    def in_time(self) -> Iterator[None]:
        """Leave off what is done here when the time is over, and note that."""
        try:
            yield
        except TimeLimitError as error:
            self.stopped = error.told

    def _only_seen(self, motion: JointMotion) -> Extremes | None:
        values: Floats | None = None
        with self.in_time():
            values = motion.values(self.seen.posture)
        if values is None or not len(values):
            return None
        at_least, at_most = (tuple(self.seen.settings[row].tolist()) for row in (values.argmin(), values.argmax()))
        return Extremes(float(values.min()), float(values.max()), at_least, at_most, -np.inf, np.inf, values)


def joint_search(mechanism: Mechanism, groups: CellGroups | None = None, settings: Floats | None = None) -> JointSearch:
    """A search over the cells of a sweep, or over cells of its own where no ``groups`` are given.

    ``settings`` (N, d) are looked at first; by default those of ``first_settings``. Where the time is over, rest is all
    that is seen.
    """
    solved, stopped = mechanism.at_rest, ""
    try:
        solved = solve(mechanism, first_settings(mechanism) if settings is None else settings)
    except TimeLimitError as error:
        stopped = error.told
    seen = solved.take(np.flatnonzero(solved.reached))
    made = groups or CellGroups(mechanism)
    return JointSearch(mechanism, made, len(solved.settings), seen, MOST_CHILDREN, stopped=stopped)


@dataclass(slots=True, eq=False)
class _TurnCount:
    """In which cells a motion turns so far that whole turns are not to be distinguished: these are cut."""

    search: JointSearch
    within: ReducedMotion
    motion: JointMotion
    cells: Cells
    tiling: Tiling[MotionBounds]

    def to_cut(self) -> Ids:
        if not self.motion.turning:
            return np.zeros(0, dtype=np.intp)
        figures = self.tiling.figures
        return self.spend(np.flatnonzero(~np.isfinite(figures.high - figures.low) & self.may_cut()))

    def may_cut(self) -> Flags:
        """(N,) whether each cell is wide enough."""
        return self.cells.share_of_range(self.tiling.ids) > SMALLEST_CUT

    def spend(self, rows: Ids) -> Ids:
        """``rows``, and their children counted off; none where no more may be asked for."""
        rows = rows if self.search.children_left > 0 else rows[:0]
        self.search.children_left -= 3 * len(rows)
        return rows

    def axes(self, rows: Ids) -> Ids:
        """The drive that turns or moves the joint most in each cell."""
        motion = self.cells.motion.take(self.tiling.ids[rows])
        return np.asarray(np.argmax(self.motion.rates(motion) * motion.half, axis=1), dtype=np.intp)

    def bounded(self, children: Children[MotionBounds]) -> MotionBounds:
        inherited = children.inherited
        values = self.motion.values(self.cells.solved(children.ids).posture)
        if self.motion.turning:
            values = nearest_turn(values, inherited.values)
        return bounds_over(self.motion, self.cells, children.ids, values).within(inherited)


@dataclass(slots=True, eq=False)
class _Range(_TurnCount):
    """How far a motion goes: cells whose bounds lie outside of the bracket round what was found are cut."""

    limits: Limits
    bracket: float = BRACKET
    least: tuple[float, Setting] = (np.inf, ())
    most: tuple[float, Setting] = (-np.inf, ())

    def look(self) -> Floats:
        """Add the values at the settings seen and at the cells' centres.

        The values (N,) seen are returned, NaN where the motion is not proven.
        """
        seen, figures = self.within.of(self.search.seen), self.tiling.figures
        rows = nearest_cells(self.cells, self.tiling.ids, seen.settings)
        known = np.flatnonzero(self.cells.hold(self.tiling.ids[rows], seen.settings))
        values = np.full(len(rows), np.nan)
        values[known] = self.motion.values(seen.posture.take(known))
        if not within_a_turn(self.motion, figures):
            values[known] = nearest_turn(values[known], figures.values[rows[known]])
        self.take_in(values[known], seen.settings[known])
        self.take_in(figures.values, self.cells.motion.settings[self.tiling.ids])
        return values

    def take_in(self, values: Floats, settings: Floats) -> None:
        """Note the extremes of ``values`` (N,) seen at ``settings`` (N, d); NaN is none."""
        known = np.isfinite(values)
        values, settings = values[known], settings[known]
        if len(values):
            low, high = int(np.argmin(values)), int(np.argmax(values))
            self.least = min(self.least, (float(values[low]), tuple(settings[low].tolist())))
            self.most = max(self.most, (float(values[high]), tuple(settings[high].tolist())))

    def to_cut(self) -> Ids:
        """The cells farthest outside of the bracket."""
        (low, high), figures = self.limits, self.tiling.figures
        above = _wanted(self.most[0], np.inf if high is None else high, self.bracket)
        below = -_wanted(-self.least[0], np.inf if low is None else -low, self.bracket)
        excess = np.where(self.may_cut(), np.maximum(figures.high - above, below - figures.low), 0.0)
        worst = np.argsort(-excess, kind="stable")[:AT_ONCE]
        return self.spend(worst[excess[worst] > 0])

    def bounded(self, children: Children[MotionBounds]) -> MotionBounds:
        self.try_corners(children.rows[:1])
        figures = _TurnCount.bounded(self, children)
        self.take_in(figures.values, self.cells.motion.settings[children.ids])
        return figures

    def try_corners(self, rows: Ids) -> None:
        """Look at the corners of cells where the motion is about largest and least."""
        ids, figures, start = self.tiling.ids[rows], self.tiling.figures, np.tile(np.arange(len(rows)), 2)
        centre, reach = self.cells.motion.settings[ids], figures.up[rows] * self.cells.motion.half[ids]
        mechanism = self.cells.mechanism
        drives = mechanism.machine.drives.values()
        ends = np.array([drive.low for drive in drives]), np.array([drive.high for drive in drives])
        settings = np.clip(np.concatenate([centre + reach, centre - reach]), *ends)
        solved = follow_or_restart(mechanism, self.cells.solved(ids), start, settings)
        values = self.motion.values(solved.posture)
        if self.motion.turning:
            values = nearest_turn(values, figures.values[rows[start]])
        self.take_in(values[solved.reached], settings[solved.reached])

    def extremes(self, looked_at: Floats) -> Extremes:
        """What was found and is proven by now."""
        (least, _), (most, _), figures = self.least, self.most, self.tiling.figures
        proven = min(float(figures.low.min()), least), max(float(figures.high.max()), most)
        ends = tuple(self.within.widened(at) if np.isfinite(value) else () for value, at in (self.least, self.most))
        return Extremes(least, most, ends[0], ends[1], *proven, looked_at, governing(self.within, self.cells, figures))


def _wanted(found: float, limit: float, bracket: float) -> float:
    """What a bound above ``found`` need not be below: nearer than the bracket where a limit is kept so far."""
    if found > limit + GRAIN:
        return found + bracket
    return min(found + bracket, max(limit, found + GRAIN))


def _told_apart(count: _TurnCount) -> Tiling[MotionBounds]:
    """The same cells, their values distinguished by whole turns."""
    motion, cells, tiling = count.motion, count.cells, count.tiling
    values = tiling.figures.values
    if not within_a_turn(motion, tiling.figures):
        values = followed(cells, tiling.ids, values, float(motion.values(cells.mechanism.home)[0]))
    return Tiling(tiling.ids, bounds_over(motion, cells, tiling.ids, values))
