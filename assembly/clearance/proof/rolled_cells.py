"""Cells over drives and rolls: the cells of the drives, each with an interval of every roll.

What rolls moves nothing else, so that the machine goes together and on which branch is proven of the drives' cells
alone. In the first cells rolls may be any; there nothing is bounded but by boxes round what a part fills at every roll
(``solid_table.SweptBoxes``). They are cut along the rolls where that is not enough, one roll after another.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from assembly.clearance.proof.cells import Cells, Columns
from assembly.geometry.mesh import Flags, Floats, Ids
from assembly.kinematics.cell_bounds import BodiesMotion, CellMotion
from assembly.kinematics.cell_motion import WIDEST_TURN
from assembly.kinematics.idle_rolls import rolled_about
from assembly.kinematics.mechanism import Mechanism, Solved
from assembly.kinematics.rod_roll import HALF_TURN
from assembly.kinematics.roll_columns import bodies_of, excluded, rolling_rods, within_limits
from assembly.kinematics.rolled_motion import Rolled, with_roll_bounds
from assembly.kinematics.rows import Posture
from assembly.kinematics.solver import rolled_on

WIDEST_ROLL = HALF_TURN / 9
"""degrees either way: cells that span more of a roll are cut along it first. It leaves the drives more than half of
the turn up to which motion can be bounded."""

GRAIN = 1e-9
"""degrees."""


@dataclass(frozen=True, slots=True, eq=False)
class RolledColumns:
    """The columns of N cells with rolls, each in a cell of the drives, ``own``.

    Ends of rods may allow some of the rolls in a cell, and that at its centre. The motion in a cell is put together
    where it is asked for, of the bodies that are asked for: it takes a hundred times the memory of these.
    """

    columns: Columns
    own: Ids
    some_allowed: Flags
    centre_allowed: Flags


class RolledCells(Cells):
    """The cells of ``drives_alone`` with columns for the rolls of ``mechanism``."""

    def __init__(self, mechanism: Mechanism, drives_alone: Cells) -> None:
        self._alone, self._count = drives_alone, len(drives_alone.span)
        columns = range(self._count, self._count + len(mechanism.rolls))
        self._rods = rolling_rods(mechanism)
        self._mechanism = mechanism
        own = np.concatenate([drives_alone.roots, drives_alone.unresolved])
        any_roll = np.full((len(own), len(mechanism.rolls)), HALF_TURN)
        first = self._bounded(own, np.zeros_like(any_roll), any_roll, np.full(len(own), -1))
        Cells.__init__(self, mechanism, (*drives_alone.drives, *columns), first)
        self.roots, self.unresolved = np.split(self.first, [len(drives_alone.roots)])

    @property
    def motion(self) -> CellMotion:
        """The bounds of all cells, in the order of their numbers: made anew."""
        return self.motion_of(np.arange(len(self)), range(len(self.mechanism.bodies))).motion

    def motion_of(self, ids: Ids, bodies: Iterable[int]) -> BodiesMotion:
        """The bounds in the cells ``ids`` (n,) of some bodies only, each once."""
        ranges = self.settings[ids], self.half[ids]
        motion = self._rolled(self._table.rows.own[ids], *ranges, tuple(dict.fromkeys(bodies)))
        return replace(motion, motion=replace(motion.motion, certified=self.certified[ids]))

    def rotations_of(self, ids: Ids, body: int) -> Floats:
        """How a body is turned (n, 3, 3) at the centres of the cells ``ids``."""
        return self._posture(self._table.rows.own[ids], self.settings[ids], self._with_leads((body,))).rotations[:, 0]

    def solved(self, ids: Ids) -> Solved:
        """The postures at the centres of cells."""
        return rolled_on(
            self.mechanism, self._alone.solved(self._table.rows.own[ids]), self.settings[ids, self._count :]
        )

    def of_drives(self, ids: Ids) -> tuple[Cells, Ids]:
        """The cells of the drives alone that these are made of, and the numbers there of those ``ids`` (N,)."""
        return self._alone, self._table.rows.own[ids]

    def some_allowed(self, ids: Ids) -> Flags:
        """Whether (N,) the ends of rods may allow some of the rolls in each cell."""
        allowed: Flags = self._table.rows.some_allowed[ids]
        return allowed

    def centre_allowed(self, ids: Ids) -> Flags:
        """Whether (N,) the ends of rods allow how they are rolled at the centre of each cell."""
        allowed: Flags = self._table.rows.centre_allowed[ids]
        return allowed

    def too_wide(self, ids: Ids) -> Flags:
        """Whether (N,) each cell spans too much of a roll for bounds on the motion in it."""
        return np.asarray((self.half[ids, self._count :] > WIDEST_ROLL + GRAIN).any(axis=1))

    def axes_to_cut(self, ids: Ids, wanted: Ids) -> Ids:
        """The columns (N,) along which to cut cells: as ``wanted`` (N,), but where others have to be cut first.

        Those are the rolls of cells that are too wide, one after another so that what the ends of its rod do not allow
        falls away before the next is cut, and the drives where the motion is not bounded all the same.
        """
        share = self.half[ids] / self.span
        drive = np.argmax(share[:, : self._count], axis=1)
        wide = self.half[ids, self._count :] > WIDEST_ROLL + GRAIN
        roll = self._count + np.argmax(wide, axis=1)
        unbounded = ~self.certified[ids] & share[:, : self._count].any(axis=1)
        return np.asarray(np.where(wide.any(axis=1), roll, np.where(unbounded, drive, wanted)), dtype=np.intp)

    def _cut(self, ids: Ids, axis: Ids) -> Any:
        """Thirds: of the interval of a roll, or of the cell of the drives."""
        columns = self.settings[ids, None, self._count :], self.half[ids, None, self._count :]
        rolls, half = (np.repeat(column, 3, axis=1) for column in columns)
        own, by_drive = np.repeat(self._table.rows.own[ids, None], 3, axis=1), np.flatnonzero(axis < self._count)
        own[by_drive] = self._alone.split(own[by_drive, 0], axis[by_drive])
        by_roll = np.flatnonzero(axis >= self._count)
        column = axis[by_roll] - self._count
        half[by_roll, :, column] /= 3
        rolls[by_roll, 0, column] -= 2 * half[by_roll, 0, column]
        rolls[by_roll, 2, column] += 2 * half[by_roll, 2, column]
        rolls, half = (part.reshape(-1, rolls.shape[-1]) for part in (rolls, half))
        return self._bounded(own.reshape(-1), rolls, half, np.repeat(np.where(axis < self._count, -1, axis), 3))

    def _bounded(self, own: Ids, rolls: Floats, half: Floats, along: Ids) -> RolledColumns:
        """The columns of cells ``own`` of the drives, with ``rolls`` (N, r) within ``half`` (N, r) degrees.

        ``along`` (N,): the column of the roll along which each was cut, from a cell that may be allowed; -1 for a
        drive. What other rolls do not allow is known of that cell.
        """
        alone, (settings, halves) = self._alone, self._ranges(own, rolls, half)
        narrow = np.flatnonzero((half <= np.rad2deg(WIDEST_TURN)).all(axis=1))
        certified, every = np.zeros(len(own), dtype=bool), self._turning()
        certified[narrow] = self._rolled(own[narrow], settings[narrow], halves[narrow], every).motion.certified
        certified &= alone.reached[own]
        some, centre = np.ones((2, len(own)), dtype=bool)
        for rod in self._rods:
            bodies, column = bodies_of(rod), self._count + self._mechanism.rolls.index(rod.number)
            centre &= within_limits(
                rod, self._posture(own, settings, self._with_leads(bodies)), self._with_leads(bodies)
            )
            new = np.flatnonzero(((along < 0) | (along == column)) & (halves[:, column] <= np.rad2deg(WIDEST_TURN)))
            some[new] &= ~excluded(rod, self._rolled(own[new], settings[new], halves[new], bodies))
        share, residual = (column[own] for column in (alone._columns.share, alone._columns.residual))
        numbers = np.arange(len(own), dtype=np.intp)
        columns = Columns(settings, halves, certified, alone.reached[own], share, residual, numbers)
        return RolledColumns(columns, own, some, centre)

    def _ranges(self, own: Ids, rolls: Floats, half: Floats) -> tuple[Floats, Floats]:
        """Settings and half-widths (N, d) with the columns of the rolls."""
        alone = self._alone
        return np.concatenate([alone.settings[own], rolls], axis=1), np.concatenate([alone.half[own], half], axis=1)

    def _turning(self) -> tuple[int, ...]:
        """The bodies that rolls turn."""
        return tuple(
            dict.fromkeys(body for number in self._mechanism.rolls for body in self._mechanism.idle[number].bodies)
        )

    def _with_leads(self, bodies: tuple[int, ...]) -> tuple[int, ...]:
        """``bodies``, and after them the first ones of the rolls that turn any of them."""
        idle = (self._mechanism.idle[number] for number in self._mechanism.rolls)
        return tuple(
            dict.fromkeys((*bodies, *(roll.bodies[0] for roll in idle if not set(roll.bodies).isdisjoint(bodies))))
        )

    def _posture(self, own: Ids, settings: Floats, bodies: tuple[int, ...]) -> Posture:
        """Where ``bodies`` stand at ``settings`` (N, d) in the cells ``own`` of the drives."""
        mechanism, posture = self._mechanism, self._alone.motion.posture.of_bodies(own, bodies)
        for number, degrees in zip(mechanism.rolls, settings[:, self._count :].T, strict=True):
            roll = mechanism.idle[number]
            if roll.bodies[0] in bodies:
                posture = rolled_about(mechanism.home, posture, roll, degrees, bodies)
        return posture

    def _rolled(self, own: Ids, settings: Floats, half: Floats, bodies: tuple[int, ...]) -> BodiesMotion:
        """The bounds of ``bodies`` in cells ``own`` of the drives within ``half`` of ``settings`` (N, d).

        Certified as far as the rolls that turn these are concerned.
        """
        every = self._with_leads(bodies)
        rolled = Rolled(settings, half, self._posture(own, settings, every))
        motion = with_roll_bounds(self._mechanism, self._alone.motion_of(own, every).motion, rolled, WIDEST_TURN, every)
        wanted = motion if every == bodies else motion.of_bodies(np.arange(len(own)), range(len(bodies)))
        return BodiesMotion(wanted, bodies, self._mechanism.bodies.centres[list(bodies)])
