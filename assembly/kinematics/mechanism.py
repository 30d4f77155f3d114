"""A machine put together and ready to be moved, and postures of it: plain values."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import partial

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats, Ids
from assembly.geometry.rotations import angle_of
from assembly.kinematics.array_stacks import RowCache, taken
from assembly.kinematics.bodies import Bodies
from assembly.kinematics.freedoms import IdleRoll
from assembly.kinematics.idle_rolls import rolled_about
from assembly.kinematics.memo import Memo
from assembly.kinematics.row_blocks import System
from assembly.kinematics.rows import Posture
from assembly.kinematics.system import Equations
from assembly.model.machine import Machine
from assembly.record import MovedEntry

MOST_KEPT = 8192
"""Postures of each kind that a mechanism keeps."""


@dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """Postures at N settings (N, d); those not ``reached`` could not be assembled and stand where the way ended."""

    settings: Floats
    posture: Posture
    reached: NDArray[np.bool_]
    share: Floats
    residual: Floats
    """(N,) mm: root of the sum of squares of all rows' misses, redundant ones too."""

    def take(self, index: NDArray[np.intp]) -> Solved:
        """What was found at the settings at ``index``."""
        return taken(self, index)


@dataclass(frozen=True, slots=True, eq=False)
class Mechanism:
    """A machine put together at rest and ready to be moved."""

    machine: Machine
    bodies: Bodies
    system: System
    home: Posture
    idle: tuple[IdleRoll, ...]
    rolls: tuple[int, ...] = ()
    """Numbers of the idle rolls that settings set too, in degrees, in columns after the drives' (``roll_columns``)."""
    unrolled: Mechanism | None = None
    """The same without those columns."""
    anchors: RowCache[Solved] = field(default_factory=partial(RowCache, MOST_KEPT), init=False, repr=False)
    """What the solver found at settings from which ways to others start."""
    blocked: RowCache[Solved] = field(default_factory=partial(RowCache, MOST_KEPT), init=False, repr=False)
    """How far the solver came towards settings that cannot be reached, since these cost the most steps."""
    reduced: Memo[tuple[int, ...], Submechanism] = field(default_factory=Memo, init=False, repr=False)
    """The machine reduced to some of its independent groups, by their numbers (``reduced.py``)."""

    @property
    def at_rest(self) -> Solved:
        """The posture at rest, as a start of ways to others."""
        settings = np.zeros((1, len(self.machine.drives)))
        return Solved(settings, self.home, np.ones(1, dtype=bool), np.ones(1), np.zeros(1))

    @property
    def equations(self) -> Equations:
        """All rows: joints, drives, held rolls."""
        return self.system.equations

    def joint_misses(self, posture: Posture, settings: Floats) -> dict[str, float]:
        """Largest miss in mm over all N postures, per joint."""
        values = np.abs(self.equations.values(posture, settings)).max(axis=0)
        worst: dict[str, float] = {}
        for owner, value in zip(self.equations.owners, values.tolist(), strict=True):
            worst[owner] = max(worst.get(owner, 0.0), value)
        return worst

    def shifts(self) -> tuple[MovedEntry, ...]:
        """Parts that had to move at rest to close the joints, farthest first."""
        centres, home = self.bodies.centres, self.home
        for roll in self.idle:
            home = rolled_about(self.home, home, roll, -roll.held)
        gone = np.linalg.norm(home.centres[0] - centres, axis=1)
        turned = np.rad2deg(angle_of(home.rotations[0]))
        found = [
            MovedEntry(name, float(gone[body]), float(turned[body]))
            for body, names in enumerate(self.bodies.members)
            for name in names
            if gone[body] > 1e-6 or turned[body] > 1e-6
        ]
        return tuple(sorted(found, key=lambda shift: -shift.moved_mm))

    def world_from_rest(self, posture: Posture, part: str) -> Floats:
        """(N, 4, 4): where ``part``, drawn at rest, stands at each posture."""
        body = self.bodies.body_of[part]
        return posture.world_from_rest(body, self.bodies.centres[body])


@dataclass(frozen=True, slots=True, eq=False)
class Submechanism:
    """A machine reduced to some of its bodies and drives, ground first; the ``mechanism`` numbers them from 0 on.

    ``drives`` (d,), ``bodies`` (B,) and ``rolls`` (r,): their numbers, and those of their idle rolls, in the whole
    machine, which has ``count`` drives.
    """

    mechanism: Mechanism
    drives: Ids
    bodies: Ids
    rolls: Ids
    count: int

    def body(self, number: int) -> int:
        """The number here of the whole machine's body ``number``. IndexError where that is left out."""
        return int(np.flatnonzero(self.bodies == number)[0])

    def roll(self, number: int) -> int:
        """The number here of the whole machine's idle roll ``number``. IndexError where that is left out."""
        return int(np.flatnonzero(self.rolls == number)[0])

    def narrowed(self, settings: Floats) -> Floats:
        """The columns (..., d + k) of the own drives and of k rolls, of the whole machine's ``settings``."""
        return np.concatenate([settings[..., self.drives], settings[..., self.count :]], axis=-1)

    def widened(self, settings: Floats, others: Floats | float = 0.0) -> Floats:
        """Settings (..., d + k) as those of the whole machine, whose other drives stand at ``others`` (count,)."""
        own = len(self.drives)
        wide = np.broadcast_to(others, (*settings.shape[:-1], self.count)).copy()
        wide[..., self.drives] = settings[..., :own]
        return np.concatenate([wide, settings[..., own:]], axis=-1)


def settings_of(machine: Machine, setting: Iterable[float], rolls: Iterable[str] = ()) -> dict[str, float]:
    """One value per drive by name, and one for each of ``rolls`` after them; empty if there is no setting."""
    values = tuple(setting)
    return dict(zip((*machine.drives, *rolls), values, strict=True)) if values else {}
