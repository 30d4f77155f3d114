"""Bounds on the motions of joints over the whole range, closed in on by cutting the range into the sweep's cells.

Every motion starts from the cells over the drives that move its two parts, as far as they are proven; those whose
bounds lie outside of what was found by more than the bracket are cut, farthest first. Angles that may pass half a turn
are told apart by whole turns: from rest on, cell by touching cell, none of which lets them turn as far as a quarter.
What was found and what is proven hold over the cells whose motion is proven; the sweep tells the others as places that
cannot be reached.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembly.clearance.cell_groups import CellGroups
from assembly.clearance.cells import Cells, Ids
from assembly.clearance.outcome import Setting, Verdict
from assembly.geometry.mesh import Floats
from assembly.motion.joint_motion import WHOLE_TURN, JointMotion, nearest_turn
from assembly.motion.mechanism import Mechanism, Solved
from assembly.motion.solver import follow_or_restart, solve

SETTINGS = 1000
"""About this many settings are looked at first, spread evenly over the range with its ends and rest among them."""
FEWEST = 3
"""Settings along each drive, however many drives there are."""
BRACKET = 0.1
"""degrees or mm: how near what is proven comes to what was found."""
MOST_THIRDS = 20_000
"""Thirds that cells may be cut into, whether or not a sweep has cut them before."""
AT_ONCE = 48
"""Cells cut for one motion in one round."""
SMALLEST_CUT = 3.0**-8
"""Share of a drive's range below which no cell is cut."""
CHUNK = 256
GRAIN = 1e-6
"""degrees or mm: a limit passed by less is kept."""

Limits = tuple[float | None, float | None]
"""Lowest and highest that a motion may reach; None where nothing limits it."""


@dataclass(frozen=True, slots=True, eq=False)
class Extremes:
    """One motion over the range: least and most found, where, and the bounds proven to hold at every setting.

    ``looked_at`` (N,): its values at the search's ``seen`` settings, NaN where the motion is not proven: what
    a joint does there is not known, not even by how many half turns.
    """

    least: float
    most: float
    at_least: Setting
    at_most: Setting
    proven_least: float
    proven_most: float
    looked_at: Floats


@dataclass(slots=True, eq=False)
class _Tiling:
    """The cells of one motion, its value at their centres, its bounds and where it is largest, and what was found."""

    motion: JointMotion
    limits: Limits
    cells: Cells
    ids: Ids
    values: Floats
    low: Floats
    high: Floats
    up: Floats
    least: tuple[float, Setting] = (np.inf, ())
    most: tuple[float, Setting] = (-np.inf, ())

    @property
    def within_a_turn(self) -> bool:
        """Whether no cell reaches half a turn, so that no whole turns are to be told apart."""
        return not self.motion.turning or max(self.high.max(), -self.low.min()) < WHOLE_TURN / 2

    def take_in(self, values: Floats, settings: Floats) -> None:
        """Note the extremes of ``values`` (N,) seen at ``settings`` (N, d)."""
        if len(values):
            low, high = int(np.argmin(values)), int(np.argmax(values))
            self.least = min(self.least, (float(values[low]), tuple(settings[low].tolist())))
            self.most = max(self.most, (float(values[high]), tuple(settings[high].tolist())))

    def excess(self) -> Floats:
        """How far (N,) each cell's bounds lie outside of the bracket round what was found; above 0: to be cut."""
        low, high = self.limits
        above = _bracket(self.most[0], np.inf if high is None else high)
        below = -_bracket(-self.least[0], np.inf if low is None else -low)
        return np.maximum(self.high - above, below - self.low)


def _bracket(found: float, limit: float) -> float:
    """What a bound above ``found`` need not be below: nearer than the bracket where a limit is kept so far."""
    if found > limit + GRAIN:
        return found + BRACKET
    return min(found + BRACKET, max(limit, found + GRAIN))


class JointSearch:
    """The cells that motions share, and settings that are looked at first.

    ``settings`` is how many settings of an even grid were looked at, ``seen`` those of them that can be reached.
    ``groups``: those of a sweep, made here where none are given; ``thirds_left`` more cells may be asked of them.
    """

    def __init__(self, mechanism: Mechanism, groups: CellGroups | None = None) -> None:
        self.mechanism = mechanism
        solved = solve(mechanism, _grid(mechanism))
        self.settings = len(solved.settings)
        self.seen = solved.take(np.flatnonzero(solved.reached))
        drives = mechanism.machine.drives.values()
        self.ends = np.array([drive.low for drive in drives]), np.array([drive.high for drive in drives])
        self.groups = CellGroups(mechanism) if groups is None else groups
        self.thirds_left = MOST_THIRDS
        self.served: dict[int, tuple[Verdict, Setting]] = {}
        """Whether some roll serves each rod that was asked about, by the number of its roll (``rod_search``)."""

    def split(self, cells: Cells, ids: Ids, axes: Ids) -> Ids:
        """The thirds of cells, as ``Cells.split`` gives them, counted off."""
        self.thirds_left -= 3 * len(ids)
        return cells.split(ids, axes)

    def extremes(self, motions: Sequence[tuple[JointMotion, Limits]]) -> list[Extremes | None]:
        """Extremes of each of ``motions``, given with their limits.

        A motion that has a limit is closed in on until the limit is decided, or the cells get too small or too many.
        Where no cell's motion is proven, bounds are infinite; None where nothing was seen either.
        """
        every = [(motion, limits, self.groups.between(*motion.bodies)) for motion, limits in motions]
        tilings = [self._opened(*one) if len(one[2].proven_roots()[0]) else None for one in every]
        found = iter(self._run([tiling for tiling in tilings if tiling is not None]))
        return [
            self._only_seen(one[0]) if tiling is None else next(found)
            for one, tiling in zip(every, tilings, strict=True)
        ]

    def _only_seen(self, motion: JointMotion) -> Extremes | None:
        if not len(self.seen.settings):
            return None
        values = motion.values(self.seen.posture)
        at_least, at_most = (tuple(self.seen.settings[row].tolist()) for row in (values.argmin(), values.argmax()))
        return Extremes(float(values.min()), float(values.max()), at_least, at_most, -np.inf, np.inf, values)

    def _run(self, tilings: Sequence[_Tiling]) -> list[Extremes]:
        values = []
        for tiling in tilings:
            rows = _nearest(tiling, self.seen.settings)
            known = np.flatnonzero(tiling.cells.hold(tiling.ids[rows], self.seen.settings))
            seen = np.full(len(rows), np.nan)
            seen[known] = self._take_in(tiling, self.seen.take(known), None if tiling.within_a_turn else rows[known])
            values.append(seen)
            self._take_in(tiling, tiling.cells.solved(tiling.ids), np.arange(len(tiling.ids)))
        active = list(tilings)
        while active and self.thirds_left > 0:
            active = [tiling for tiling in active if self._refine(tiling)]
        return [
            Extremes(
                *(tiling.least[0], tiling.most[0], tiling.least[1], tiling.most[1]),
                proven_least=min(float(tiling.low.min()), tiling.least[0]),
                proven_most=max(float(tiling.high.max()), tiling.most[0]),
                looked_at=seen_values,
            )
            for tiling, seen_values in zip(tilings, values, strict=True)
        ]

    def _opened(self, motion: JointMotion, limits: Limits, cells: Cells) -> _Tiling:
        """The tiling of the root cells; where whole turns are to be told apart, cut until no cell spans a quarter."""
        roots, _ = cells.proven_roots()
        tiling = _tiling(motion, limits, cells, roots, motion.values(cells.solved(roots).posture))
        while motion.turning:
            wide = np.flatnonzero(~np.isfinite(tiling.high - tiling.low) & _may_cut(tiling))
            if not len(wide) or self.thirds_left <= 0:
                tiling.values = tiling.values if tiling.within_a_turn else _followed(tiling)
                break
            tiling = self._cut(tiling, wide)
        return _tiling(motion, limits, cells, tiling.ids, tiling.values)

    def _refine(self, tiling: _Tiling) -> bool:
        """Cut the cells farthest outside of the bracket; whether there were any."""
        excess = np.where(_may_cut(tiling), tiling.excess(), 0.0)
        worst = np.argsort(-excess, kind="stable")[:AT_ONCE]
        worst = worst[excess[worst] > 0]
        if not len(worst):
            return False
        self._try_corners(tiling, worst[:1])
        cut = self._cut(tiling, worst)
        tiling.ids, tiling.values, tiling.low, tiling.high, tiling.up = cut.ids, cut.values, cut.low, cut.high, cut.up
        new = np.arange(len(tiling.ids) - 3 * len(worst), len(tiling.ids))
        tiling.take_in(tiling.values[new], tiling.cells.motion.settings[tiling.ids[new]])
        return True

    def _cut(self, tiling: _Tiling, rows: Ids) -> _Tiling:
        """``tiling`` with the cells ``rows`` cut in three; the thirds come last.

        Each is cut along the drive that turns or moves the joint most in it.
        """
        ids, motion, cells = tiling.ids[rows], tiling.motion, tiling.cells
        take = cells.motion.take(ids)
        axes = np.argmax(motion.paces(take) * take.half, axis=1)
        thirds, parents = self.split(cells, ids, axes).reshape(-1), np.repeat(rows, 3)
        values = motion.values(cells.solved(thirds).posture)
        if motion.turning:
            values = nearest_turn(values, tiling.values[parents])
        new = _tiling(motion, tiling.limits, cells, thirds, values)
        kept = np.setdiff1d(np.arange(len(tiling.ids)), rows)
        low, high = np.maximum(new.low, tiling.low[parents]), np.minimum(new.high, tiling.high[parents])
        return _Tiling(
            motion,
            tiling.limits,
            cells,
            np.concatenate([tiling.ids[kept], new.ids]),
            np.concatenate([tiling.values[kept], new.values]),
            np.concatenate([tiling.low[kept], low]),
            np.concatenate([tiling.high[kept], high]),
            np.concatenate([tiling.up[kept], new.up]),
        )

    def _try_corners(self, tiling: _Tiling, rows: Ids) -> None:
        """Look at the corners of cells where the motion is about largest and least."""
        ids, cells = tiling.ids[rows], tiling.cells
        centre, half = cells.motion.settings[ids], cells.motion.half[ids]
        corners = [centre + way * tiling.up[rows] * half for way in (1.0, -1.0)]
        settings = np.clip(np.concatenate(corners), *self.ends)
        start = np.concatenate([np.arange(len(rows))] * 2)
        solved = follow_or_restart(self.mechanism, cells.solved(ids), start, settings)
        good = np.flatnonzero(solved.reached)
        self._take_in(tiling, solved.take(good), np.concatenate([rows, rows])[good])

    def _take_in(self, tiling: _Tiling, solved: Solved, rows: Ids | None) -> Floats:
        """Note the values (N,) at ``solved`` settings, each in the cell ``rows`` of the tiling or nearest to it.

        The cells tell whole turns apart; without them none are.
        """
        values = tiling.motion.values(solved.posture)
        if tiling.motion.turning and rows is not None:
            values = nearest_turn(values, tiling.values[rows])
        tiling.take_in(values, solved.settings)
        return values


def _tiling(motion: JointMotion, limits: Limits, cells: Cells, ids: Ids, values: Floats) -> _Tiling:
    span = motion.span(cells.motion.take(ids), values)
    return _Tiling(motion, limits, cells, ids, values, span.low, span.high, span.up)


def _may_cut(tiling: _Tiling) -> NDArray[np.bool_]:
    return tiling.cells.share_of_range(tiling.ids) > SMALLEST_CUT


def _nearest(tiling: _Tiling, settings: Floats) -> Ids:
    """Which cell holds each of ``settings`` (N, d), or is nearest to it in widths of its own.

    Only the drives that are cut count: wherever the others stand, they do not move the joint.
    """
    drives = list(tiling.cells.drives)
    centre, half = (array[tiling.ids][:, drives] for array in (tiling.cells.motion.settings, tiling.cells.motion.half))
    found = np.zeros(len(settings), dtype=np.intp)
    for k in range(0, len(settings), CHUNK):
        away = np.abs(settings[k : k + CHUNK, None, drives] - centre) / half
        found[k : k + CHUNK] = away.max(axis=2, initial=0.0).argmin(axis=1)
    return found


def _followed(tiling: _Tiling) -> Floats:
    """Values (N,) at the cells' centres with whole turns told apart, from the cell at rest to those touching it."""
    values, motion = tiling.values.copy(), tiling.cells.motion
    centre, half = motion.settings[tiling.ids], motion.half[tiling.ids]
    front = _nearest(tiling, np.zeros((1, centre.shape[1])))
    left = np.ones(len(values), dtype=bool)
    left[front] = False
    while len(front):
        rest, reached = np.flatnonzero(left), [np.zeros(0, dtype=np.intp)]
        for row in front:
            apart = np.abs(centre[rest] - centre[row]) <= (half[rest] + half[row]) * (1 + 1e-9)
            touching = apart.all(axis=1)
            new = rest[touching]
            values[new] = nearest_turn(values[new], np.full(len(new), values[row]))
            reached.append(new)
            rest = rest[~touching]
        front = np.concatenate(reached)
        left[front] = False
    return values


def _grid(mechanism: Mechanism) -> Floats:
    """Settings (N, d) evenly from end to end of each drive, with 0 among them."""
    drives = list(mechanism.machine.drives.values())
    if not drives:
        return np.zeros((1, 0))
    count = max(FEWEST, int(SETTINGS ** (1 / len(drives))))
    values = [np.unique(np.append(np.linspace(drive.low, drive.high, count), 0.0)) for drive in drives]
    return np.stack(np.meshgrid(*values, indexing="ij"), axis=-1).reshape(-1, len(drives))
