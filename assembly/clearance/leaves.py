"""Cells of given settings, cut into thirds where they are too coarse, and what is known of shapes in them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembly.clearance.cells import Ids
from assembly.geometry.mesh import Floats
from assembly.motion.cell_motion import CellMotion, bound_motion
from assembly.motion.mechanism import Mechanism, Solved
from assembly.motion.solver import solve
from assembly.motion.stacks import stacked, taken


@dataclass(frozen=True, slots=True, eq=False)
class Leaves:
    """N cells with the bounds of their motion; ``root`` (N,) is the given cell that each is a part of.

    Of K shapes looked at: ``known`` (K, N) mm, their distances at the centres, nan where not measured, and
    ``lower`` (K, N) mm, bounds on them in the whole cell; both are filled in by whoever measures. ``rest`` (2, N) mm:
    bounds on distance and room of all other shapes together.
    """

    solved: Solved
    motion: CellMotion
    root: Ids
    known: Floats
    lower: Floats
    rest: Floats

    def __len__(self) -> int:
        return len(self.root)

    def take(self, index: NDArray[np.intp]) -> Leaves:
        """Copies of the cells at ``index``."""
        tables = (table[:, index] for table in (self.known, self.lower, self.rest))
        return Leaves(taken(self.solved, index), self.motion.take(index), self.root[index], *tables)

    def thirds(self, mechanism: Mechanism) -> Leaves:
        """Every cell cut in three along the drive that moves most in it: all middle ones, all low ones, all high ones.

        The middle third keeps the centre and what was measured there; all inherit the bounds.
        """
        half, rows = self.motion.half.copy(), np.arange(len(self))
        axis = np.argmax(_paces(self.motion, mechanism.equations.scale), axis=1)
        half[rows, axis] /= 3
        away = np.zeros_like(half)
        away[rows, axis] = 2 * half[rows, axis]
        settings = self.solved.settings
        solved = stacked(self.solved, solve(mechanism, np.concatenate([settings - away, settings + away])))
        unknown = np.full((len(self.known), 2 * len(self)), np.nan)
        return Leaves(
            solved,
            bound_motion(mechanism, solved, np.tile(half, (3, 1))),
            np.tile(self.root, 3),
            np.concatenate([self.known, unknown], axis=1),
            np.tile(self.lower, (1, 3)),
            np.tile(self.rest, (1, 3)),
        )


def begin(mechanism: Mechanism, settings: Floats, half: Floats) -> Leaves:
    """Cells with centres ``settings`` and half-widths ``half`` (N, d) in drive units; no shape is looked at yet."""
    solved, count = solve(mechanism, settings), len(settings)
    motion = bound_motion(mechanism, solved, half)
    none = np.zeros((0, count))
    return Leaves(solved, motion, np.arange(count, dtype=np.intp), none, none, np.full((2, count), np.inf))


def _paces(motion: CellMotion, scale: float) -> Floats:
    """How far in mm each drive moves the farthest-moving body within each cell (N, d); 0 where that is not known."""
    with np.errstate(invalid="ignore", over="ignore"):
        rate = np.linalg.norm(motion.shift_rate, axis=-1) + scale * np.linalg.norm(motion.turn_rate, axis=-1)
        return np.asarray(np.nan_to_num(rate.max(axis=1) * motion.half, posinf=0.0))
