"""Cells over drives and rolls: the cells of the drives, each with an interval of every roll.

What rolls moves nothing else, so that the machine goes together and on which branch is proven of the drives' cells
alone. In the first cells rolls may be any; there nothing is bounded but by boxes round what a part fills at every roll
(``solid_table.SweptBoxes``). They are cut along the rolls where that is not enough.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from assembly.clearance.proof.cells import Cells, Columns, columns_of
from assembly.geometry.mesh import Flags, Floats, Ids
from assembly.kinematics.cell_motion import WIDEST_TURN
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rod_roll import HALF_TURN
from assembly.kinematics.roll_columns import allowed, excluded
from assembly.kinematics.rolled_motion import with_roll_bounds
from assembly.kinematics.solver import rolled_on

WIDEST_ROLL = HALF_TURN / 9
"""degrees either way: cells that span more of a roll are cut along it first. It leaves the drives more than half of
the turn up to which motion can be bounded."""


class RolledCells(Cells):
    """The cells of ``drives_alone`` with columns for the rolls of ``mechanism``."""

    def __init__(self, mechanism: Mechanism, drives_alone: Cells, first: Columns) -> None:
        self._alone, self._count = drives_alone, len(drives_alone.span)
        columns = range(self._count, self._count + len(mechanism.rolls))
        Cells.__init__(self, mechanism, (*drives_alone.drives, *columns), first)
        self.roots, self.unresolved = np.split(self.first, [len(drives_alone.roots)])

    def of_drives(self, ids: Ids) -> tuple[Cells, Ids]:
        """The cells of the drives alone that these are made of, and the numbers there of those ``ids`` (N,)."""
        return self._alone, self._table.rows.own[ids]

    def too_wide(self, ids: Ids) -> Flags:
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

    def _cut(self, ids: Ids, axis: Ids) -> Columns:
        """Thirds: of the interval of a roll, or of the cell of the drives."""
        columns = self.motion.settings[ids, None, self._count :], self.motion.half[ids, None, self._count :]
        rolls, half = (np.repeat(column, 3, axis=1) for column in columns)
        own, by_drive = np.repeat(self._table.rows.own[ids, None], 3, axis=1), np.flatnonzero(axis < self._count)
        own[by_drive] = self._alone.split(own[by_drive, 0], axis[by_drive])
        by_roll = np.flatnonzero(axis >= self._count)
        column = axis[by_roll] - self._count
        half[by_roll, :, column] /= 3
        rolls[by_roll, 0, column] -= 2 * half[by_roll, 0, column]
        rolls[by_roll, 2, column] += 2 * half[by_roll, 2, column]
        rolls, half = (part.reshape(-1, rolls.shape[-1]) for part in (rolls, half))
        return _columns(self.mechanism, self._alone, own.reshape(-1), rolls, half)


def rolled_cells(mechanism: Mechanism, drives_alone: Cells) -> RolledCells:
    """Cells of ``drives_alone`` in each of which what can roll may stand at any roll of a whole turn."""
    own = np.concatenate([drives_alone.roots, drives_alone.unresolved])
    any_roll = np.full((len(own), len(mechanism.rolls)), HALF_TURN)
    first = _columns(mechanism, drives_alone, own, np.zeros_like(any_roll), any_roll)
    return RolledCells(mechanism, drives_alone, first)


def _columns(mechanism: Mechanism, drives_alone: Cells, own: Ids, rolls: Floats, half: Floats) -> Columns:
    """The columns of cells ``own`` of the drives, with ``rolls`` (N, r) within ``half`` (N, r) degrees."""
    solved = rolled_on(mechanism, drives_alone.solved(own), rolls)
    motion = drives_alone.motion.take(own)
    motion = with_roll_bounds(mechanism, motion, solved, np.concatenate([motion.half, half], axis=1), WIDEST_TURN)
    some, centre = ~excluded(mechanism, motion), allowed(mechanism, motion.posture)
    return replace(columns_of(solved, motion), own=own, some_allowed=some, centre_allowed=centre)
