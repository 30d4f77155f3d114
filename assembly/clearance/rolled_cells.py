"""Cells over drives and rolls: the cells of the drives, each with an interval of every roll.

What rolls moves nothing else, so that the machine goes together and on which branch is proven of the drives' cells
alone. In the first cells rolls may be any; there nothing is bounded but by boxes round what a part fills at every roll
(``stock.SweptBoxes``). They are cut along the rolls where that is not enough.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from assembly.clearance.cells import Cells, Ids
from assembly.geometry.mesh import Floats
from assembly.motion.cell_bounds import MotionStore
from assembly.motion.cell_motion import WIDEST_TURN, CellMotion
from assembly.motion.joint_motion import WHOLE_TURN
from assembly.motion.mechanism import Mechanism, Solved
from assembly.motion.rod_roll import HALF_TURN
from assembly.motion.rolled_motion import with_roll_bounds
from assembly.motion.rolling import allowed, excluded
from assembly.motion.solver import rolled_on

WIDEST_ROLL = HALF_TURN / 9
"""degrees either way: cells that span more of a roll are cut along it first. It leaves the drives more than half of
the turn up to which motion can be bounded."""


class RolledCells(Cells):
    """The cells of ``drives_alone`` with columns for the rolls of ``mechanism``."""

    def __init__(self, mechanism: Mechanism, drives_alone: Cells) -> None:
        self.mechanism, self._alone = mechanism, drives_alone
        rolls, self._count = len(mechanism.rolls), len(drives_alone.span)
        self.drives = (*drives_alone.drives, *range(self._count, self._count + rolls))
        self.span = np.append(drives_alone.span, np.full(rolls, WHOLE_TURN))
        self.low = np.append(drives_alone.low, np.full(rolls, -HALF_TURN))
        self._thirds = {}
        proven, given_up = drives_alone.proven_roots()
        self._own = np.concatenate([proven, given_up])
        """Each cell's own among those of the drives."""
        numbers = np.arange(len(self._own), dtype=np.intp)
        self._roots = numbers[: len(proven)], numbers[len(proven) :]
        any_roll = np.full((len(self._own), rolls), HALF_TURN)
        solved, motion = self._bounded(self._own, np.zeros_like(any_roll), any_roll)
        self._store, self.centre_of = MotionStore(motion), numbers
        self.reached, self.share, self.residual = solved.reached, solved.share, solved.residual
        self._excluded, self._allowed = self._of_rolls(motion)

    def of_drives(self, ids: Ids) -> tuple[Cells, Ids]:
        """The cells of the drives alone that these are made of, and the numbers there of those ``ids`` (N,)."""
        return self._alone, self._own[ids]

    def some_allowed(self, ids: Ids) -> NDArray[np.bool_]:
        """Whether (N,) the ends of rods may allow some of the rolls in each cell."""
        return ~self._excluded[ids]

    def centre_allowed(self, ids: Ids) -> NDArray[np.bool_]:
        """Whether (N,) the ends of rods allow how they are rolled at the centre of each cell."""
        return self._allowed[ids]

    def too_wide(self, ids: Ids) -> NDArray[np.bool_]:
        """Whether (N,) each cell spans too much of a roll for bounds on the motion in it."""
        return np.asarray((self.motion.half[ids, self._count :] > WIDEST_ROLL + 1e-9).any(axis=1))

    def axes_to_cut(self, ids: Ids, wanted: Ids) -> Ids:
        """The columns (N,) along which to cut cells: as ``wanted`` (N,), but where others have to be cut first.

        Those are the rolls of cells that are too wide, and the drives where the motion is not bounded all the same.
        """
        share = self.motion.half[ids] / self.span
        drive = np.argmax(share[:, : self._count], axis=1)
        roll = self._count + np.argmax(share[:, self._count :], axis=1)
        unbounded = ~self.motion.certified[ids] & share[:, : self._count].any(axis=1)
        return np.asarray(np.where(self.too_wide(ids), roll, np.where(unbounded, drive, wanted)), dtype=np.intp)

    def _cut(self, ids: Ids, axis: Ids) -> None:
        """Thirds: of the interval of a roll, or of the cell of the drives."""
        columns = self.motion.settings[ids, None, self._count :], self.motion.half[ids, None, self._count :]
        rolls, half = (np.repeat(column, 3, axis=1) for column in columns)
        own, by_drive = np.repeat(self._own[ids, None], 3, axis=1), np.flatnonzero(axis < self._count)
        own[by_drive] = self._alone.split(self._own[ids[by_drive]], axis[by_drive])
        by_roll = np.flatnonzero(axis >= self._count)
        column = axis[by_roll] - self._count
        half[by_roll, :, column] /= 3
        rolls[by_roll, 0, column] -= 2 * half[by_roll, 0, column]
        rolls[by_roll, 2, column] += 2 * half[by_roll, 2, column]
        numbers = len(self) + np.arange(3 * len(ids), dtype=np.intp).reshape(-1, 3)
        centre = numbers.copy()
        centre[:, 1] = self.centre_of[ids]
        solved, motion = self._bounded(own.reshape(-1), *(part.reshape(-1, part.shape[-1]) for part in (rolls, half)))
        self._keep(solved, motion, centre.reshape(-1))
        self._own = np.append(self._own, own)
        excluded_more, allowed_more = self._of_rolls(motion)
        self._excluded, self._allowed = np.append(self._excluded, excluded_more), np.append(self._allowed, allowed_more)
        for cut, (low, middle, high) in zip(
            zip(ids.tolist(), axis.tolist(), strict=True), numbers.tolist(), strict=True
        ):
            self._thirds[cut] = low, middle, high

    def _bounded(self, own: Ids, rolls: Floats, half: Floats) -> tuple[Solved, CellMotion]:
        """Postures and bounds of cells ``own`` of the drives, with ``rolls`` (N, r) within ``half`` (N, r) degrees."""
        motion = self._alone.motion.take(own)
        solved = rolled_on(self.mechanism, self._alone.solved(own), rolls)
        return solved, with_roll_bounds(
            self.mechanism, motion, solved, np.concatenate([motion.half, half], axis=1), WIDEST_TURN
        )

    def _of_rolls(self, motion: CellMotion) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        """Whether rods' ends allow no roll of a cell at any of its settings, and whether they allow its centre."""
        return excluded(self.mechanism, motion), allowed(self.mechanism, motion.posture)
