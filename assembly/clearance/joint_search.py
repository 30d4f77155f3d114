"""Bounds on the motions of joints over the whole range, closed in on by cutting the range into the sweep's cells.

Every motion starts from the cells whose motion is proven; those whose bounds lie outside of what was found by more than
the bracket are cut, farthest first. Angles that may pass half a turn are told apart by whole turns: from rest on, cell
by touching cell, none of which lets them turn as far as a quarter. What was found and what is proven hold over the
cells whose motion is proven; the sweep tells the others as places that cannot be reached.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assembly.clearance.cells import Cells, Ids
from assembly.clearance.outcome import Setting
from assembly.geometry.mesh import Floats
from assembly.motion.joint_motion import JointMotion, nearest_turn
from assembly.motion.mechanism import Mechanism, Solved
from assembly.motion.solver import follow_or_restart

BRACKET = 0.1
"""degrees or mm: how near what is proven comes to what was found."""
MOST_CELLS = 20_000
"""Cells beyond which no more are cut."""
AT_ONCE = 48
"""Cells cut for one motion in one round."""
SMALLEST_CUT = 3.0**-8
"""Share of a drive's range below which no cell is cut."""
CHUNK = 256


@dataclass(frozen=True, slots=True, eq=False)
class Extremes:
    """One motion over the range: least and most found, where, and the bounds proven to hold at every setting."""

    least: float
    most: float
    at_least: Setting
    at_most: Setting
    proven_least: float
    proven_most: float


@dataclass(slots=True, eq=False)
class _Tiling:
    """The cells of one motion, its value at their centres, its bounds and where it is largest, and what was found."""

    motion: JointMotion
    limit: float | None
    ids: Ids
    values: Floats
    low: Floats
    high: Floats
    up: Floats
    least: tuple[float, Setting] = (np.inf, ())
    most: tuple[float, Setting] = (-np.inf, ())

    def take_in(self, values: Floats, settings: Floats) -> None:
        """Note the extremes of ``values`` (N,) seen at ``settings`` (N, d)."""
        if len(values):
            low, high = int(np.argmin(values)), int(np.argmax(values))
            self.least = min(self.least, (float(values[low]), tuple(settings[low].tolist())))
            self.most = max(self.most, (float(values[high]), tuple(settings[high].tolist())))

    def excess(self) -> Floats:
        """How far (N,) each cell's bounds lie outside of the bracket round what was found; above 0: to be cut."""
        above = self.most[0] + BRACKET
        if self.limit is not None and self.most[0] <= self.limit:
            above = min(above, max(self.limit, self.most[0] + 1e-6))
        return np.maximum(self.high - above, self.least[0] - BRACKET - self.low)


def find_extremes(
    mechanism: Mechanism, motions: Sequence[tuple[JointMotion, float | None]], looked_at: Solved
) -> list[Extremes | None]:
    """Extremes of each of ``motions``, given with their limits; ``looked_at``: settings that are solved already.

    A motion that has a limit is closed in on until the limit is decided, or the cells get too small or too many.
    None where no cell's motion is proven.
    """
    search = _Search(mechanism)
    return [None] * len(motions) if not len(search.roots) else search.run(motions, looked_at)


class _Search:
    """The cells that all motions share."""

    def __init__(self, mechanism: Mechanism) -> None:
        self.mechanism = mechanism
        self.cells = Cells(mechanism)
        self.roots, _ = self.cells.proven_roots()

    def run(self, motions: Sequence[tuple[JointMotion, float | None]], looked_at: Solved) -> list[Extremes | None]:
        tilings = [self._opened(motion, limit) for motion, limit in motions]
        good = np.flatnonzero(looked_at.reached)
        for tiling in tilings:
            self._take_in(tiling, looked_at.take(good), self._nearest(tiling.ids, looked_at.settings[good]))
            self._take_in(tiling, self.cells.solved(tiling.ids), np.arange(len(tiling.ids)))
        active = tilings
        while active and len(self.cells) < MOST_CELLS:
            active = [tiling for tiling in active if self._refine(tiling)]
        return [
            Extremes(
                *(tiling.least[0], tiling.most[0], tiling.least[1], tiling.most[1]),
                proven_least=min(float(tiling.low.min()), tiling.least[0]),
                proven_most=max(float(tiling.high.max()), tiling.most[0]),
            )
            for tiling in tilings
        ]

    def _opened(self, motion: JointMotion, limit: float | None) -> _Tiling:
        """The tiling of the root cells; where whole turns are to be told apart, cut until no cell spans a quarter."""
        tiling = self._tiling(motion, limit, self.roots, motion.values(self.cells.solved(self.roots).posture))
        while motion.turning:
            wide = np.flatnonzero(~np.isfinite(tiling.high - tiling.low) & self._may_cut(tiling.ids))
            if not len(wide) or len(self.cells) >= MOST_CELLS:
                tiling.values = self._followed(tiling)
                break
            tiling = self._cut(tiling, wide)
        again = self._tiling(motion, limit, tiling.ids, tiling.values)
        return again

    def _tiling(self, motion: JointMotion, limit: float | None, ids: Ids, values: Floats) -> _Tiling:
        span = motion.span(self.cells.motion.take(ids), values)
        return _Tiling(motion, limit, ids, values, span.low, span.high, span.up)

    def _refine(self, tiling: _Tiling) -> bool:
        """Cut the cells farthest outside of the bracket; whether there were any."""
        excess = np.where(self._may_cut(tiling.ids), tiling.excess(), 0.0)
        worst = np.argsort(-excess, kind="stable")[:AT_ONCE]
        worst = worst[excess[worst] > 0]
        if not len(worst):
            return False
        self._try_corners(tiling, worst[:1])
        cut = self._cut(tiling, worst)
        tiling.ids, tiling.values, tiling.low, tiling.high, tiling.up = cut.ids, cut.values, cut.low, cut.high, cut.up
        new = np.arange(len(tiling.ids) - 3 * len(worst), len(tiling.ids))
        tiling.take_in(tiling.values[new], self.cells.motion.settings[tiling.ids[new]])
        return True

    def _cut(self, tiling: _Tiling, rows: Ids) -> _Tiling:
        """``tiling`` with the cells ``rows`` cut in three, along the drive that turns or moves the joint most in each;
        the thirds come last.
        """
        ids, motion = tiling.ids[rows], tiling.motion
        take = self.cells.motion.take(ids)
        axes = np.argmax(motion.paces(take) * take.half, axis=1)
        thirds, parents = self.cells.split(ids, axes).reshape(-1), np.repeat(rows, 3)
        values = motion.values(self.cells.solved(thirds).posture)
        if motion.turning:
            values = nearest_turn(values, tiling.values[parents])
        new = self._tiling(motion, tiling.limit, thirds, values)
        kept = np.setdiff1d(np.arange(len(tiling.ids)), rows)
        low, high = np.maximum(new.low, tiling.low[parents]), np.minimum(new.high, tiling.high[parents])
        return _Tiling(
            motion,
            tiling.limit,
            np.concatenate([tiling.ids[kept], new.ids]),
            np.concatenate([tiling.values[kept], new.values]),
            np.concatenate([tiling.low[kept], low]),
            np.concatenate([tiling.high[kept], high]),
            np.concatenate([tiling.up[kept], new.up]),
        )

    def _may_cut(self, ids: Ids) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        return self.cells.share_of_range(ids) > SMALLEST_CUT

    def _try_corners(self, tiling: _Tiling, rows: Ids) -> None:
        """Look at the corners of cells where the motion is about largest and least."""
        ids = tiling.ids[rows]
        centre, half = self.cells.motion.settings[ids], self.cells.motion.half[ids]
        settings = np.concatenate([centre + way * tiling.up[rows] * half for way in (1.0, -1.0)])
        start = np.concatenate([np.arange(len(rows))] * 2)
        solved = follow_or_restart(self.mechanism, self.cells.solved(ids), start, settings)
        good = np.flatnonzero(solved.reached)
        self._take_in(tiling, solved.take(good), np.concatenate([rows, rows])[good])

    def _take_in(self, tiling: _Tiling, solved: Solved, rows: Ids) -> None:
        """Note what is seen at ``solved`` settings, each in the cell ``rows`` of the tiling or nearest to it."""
        values = tiling.motion.values(solved.posture)
        if tiling.motion.turning:
            values = nearest_turn(values, tiling.values[rows])
        tiling.take_in(values, solved.settings)

    def _nearest(self, ids: Ids, settings: Floats) -> Ids:
        """Which of the cells ``ids`` holds each of ``settings`` (N, d), or is nearest to it in widths of its own."""
        centre, half = self.cells.motion.settings[ids], self.cells.motion.half[ids]
        found = np.zeros(len(settings), dtype=np.intp)
        for k in range(0, len(settings), CHUNK):
            away = np.abs(settings[k : k + CHUNK, None] - centre) / half
            found[k : k + CHUNK] = away.max(axis=2).argmin(axis=1)
        return found

    def _followed(self, tiling: _Tiling) -> Floats:
        """Values (N,) at the cells' centres with whole turns told apart, from the cell at rest to those touching it."""
        values = tiling.values.copy()
        centre, half = self.cells.motion.settings[tiling.ids], self.cells.motion.half[tiling.ids]
        front = self._nearest(tiling.ids, np.zeros((1, centre.shape[1])))
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
