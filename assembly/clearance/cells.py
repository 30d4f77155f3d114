"""The range of the drives cut into cells, shared by all pairs: each cell knows how far every body moves in it.

A cell is cut in three along one drive; its middle third keeps the centre, so every distance measured there
serves again. Where the motion cannot be proven a cell is cut on; at the smallest size it is given up, and
what is given up is reported as a place where the machine locks, folds over or cannot be assembled.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats
from assembly.motion.solver import Mechanism, Solved, follow, retried_from_rest, solve
from assembly.motion.travel import CellMotion, bound_motion

SMALLEST = 3.0**-7
"""Share of a drive's range: a cell this small that cannot be proven is given up."""
SMALLEST_UNREACHED = 3.0**-4
"""The same for cells whose very centre cannot be assembled."""
MOST_UNPROVEN = 6000
"""Cells that may be cut at one level for want of proof; beyond it they are given up as they are."""

Ids = NDArray[np.intp]


class Cells:
    """All cells made so far, by number. ``motion`` holds the bounds of each, in the order of the numbers."""

    def __init__(self, mechanism: Mechanism) -> None:
        self.mechanism = mechanism
        drives = list(mechanism.machine.drives.values())
        low = np.array([[drive.low for drive in drives]])
        high = np.array([[drive.high for drive in drives]])
        self.span = (high - low)[0]
        half = (high - low) / 2
        solved = solve(mechanism, (low + high) / 2)
        self.motion: CellMotion = bound_motion(mechanism, solved, half)
        self.reached = solved.reached
        self.share = solved.share
        self.residual = solved.residual
        self.centre_of: Ids = np.zeros(1, dtype=np.intp)
        """The number under which distances at this cell's centre are known: its own, or its ancestor's."""
        self._thirds: dict[int, tuple[int, int, int]] = {}
        self._pace = self._paces()

    def __len__(self) -> int:
        return len(self.motion)

    def share_of_range(self, ids: Ids) -> Floats:
        """Width (N,) of cells as a share of the drives' ranges, along the drive where it is largest."""
        return np.asarray((2 * self.motion.half[ids] / self.span).max(axis=1, initial=0.0))

    def proven_roots(self) -> tuple[Ids, Ids]:
        """Cells that cover the range with their motion proven, and those that were given up."""
        proven: list[int] = []
        given_up: list[int] = []
        waiting = np.zeros(1, dtype=np.intp)
        while len(waiting):
            sure = self.motion.certified[waiting]
            proven += waiting[sure].tolist()
            rest = waiting[~sure]
            small = self.share_of_range(rest) <= np.where(self.reached[rest], SMALLEST, SMALLEST_UNREACHED)
            if (~small).sum() > MOST_UNPROVEN:
                small[:] = True
            given_up += rest[small].tolist()
            waiting = self.split(rest[~small]).reshape(-1)
        return np.array(proven, dtype=np.intp), np.array(given_up, dtype=np.intp)

    def split(self, ids: Ids) -> Ids:
        """Numbers (N, 3) of the thirds of the cells ``ids``: low, middle, high along the drive that moves most."""
        new = np.array([cell for cell in dict.fromkeys(ids.tolist()) if cell not in self._thirds], dtype=np.intp)
        if len(new):
            self._cut(new)
        return np.array([self._thirds[cell] for cell in ids.tolist()], dtype=np.intp).reshape(-1, 3)

    def _cut(self, ids: Ids) -> None:
        settings, half = self.motion.settings[ids], self.motion.half[ids]
        axis = np.argmax(half * self._pace, axis=1)
        rows = np.arange(len(ids))
        third = half.copy()
        third[rows, axis] /= 3
        away = np.zeros_like(half)
        away[rows, axis] = 2 * third[rows, axis]
        known = self.solved(ids)
        sides = self._reach(known, np.concatenate([settings - away, settings + away]), np.concatenate([rows, rows]))
        count = len(self)
        for solved, centre in (
            (known, self.centre_of[ids]),
            (sides, np.arange(count + len(ids), count + 3 * len(ids))),
        ):
            self._append(solved, np.concatenate([third] * (len(solved.settings) // len(ids))), centre)
        for k, cell in enumerate(ids.tolist()):
            self._thirds[cell] = (count + len(ids) + k, count + k, count + 2 * len(ids) + k)

    def solved(self, ids: Ids) -> Solved:
        """The postures at the centres of cells."""
        motion = self.motion
        return Solved(
            motion.settings[ids], motion.posture.take(ids), self.reached[ids], self.share[ids], self.residual[ids]
        )

    def _reach(self, known: Solved, settings: Floats, start: Ids) -> Solved:
        """Postures at new centres: on from the parent's, or from rest where the parent's could not be assembled."""
        return retried_from_rest(self.mechanism, follow(self.mechanism, known, start, settings), known.reached[start])

    def _append(self, solved: Solved, half: Floats, centre: Ids) -> None:
        self.motion = self.motion.with_more(bound_motion(self.mechanism, solved, half))
        self.reached = np.concatenate([self.reached, solved.reached])
        self.share = np.concatenate([self.share, solved.share])
        self.residual = np.concatenate([self.residual, solved.residual])
        self.centre_of = np.concatenate([self.centre_of, centre])

    def _paces(self) -> Floats:
        """How far in mm each drive moves the farthest-moving body per unit at the middle of the range (d,)."""
        scale = self.mechanism.equations.scale
        motion = self.motion
        pace = np.linalg.norm(motion.shift_rate[0], axis=-1) + scale * np.linalg.norm(motion.turn_rate[0], axis=-1)
        widest = 1.0 / np.maximum(self.span, 1e-12)
        return np.asarray(np.where(np.isfinite(pace).all(), pace.max(axis=0, initial=0.0), widest) + 1e-6 * widest)
