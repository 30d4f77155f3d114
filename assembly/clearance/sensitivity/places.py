"""Figures at one setting as functions of the posture: what their derivatives over the bodies' motions are."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from assembly.clearance.narrow_phase.witness import vector
from assembly.clearance.sensitivity.change import Stepped
from assembly.geometry.mesh import Floats
from assembly.kinematics.joint_limits import limits_of
from assembly.kinematics.joint_motion import JointMotion, Lean, PinTurn, motions_of, nearest_turn, stated_limits
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.perturbed import shortest_turn
from assembly.kinematics.rod_roll import rods_of, windows
from assembly.kinematics.rows import Posture
from assembly.kinematics.step import moved

NUDGE = 1e-4
"""mm by which bodies are moved for a difference: rounding and what is left out are both below 1e-8 of a slope."""


class Place(Protocol):
    """A figure at the setting that governs it; larger is better."""

    @property
    def settings(self) -> Floats:
        """The setting (d,), with a column for every roll."""

    def gradient(self, mechanism: Mechanism, posture: Posture) -> Floats:
        """Derivatives (n,) over the unknowns of the one ``posture``: shifts, and rotation vectors times the scale."""

    def at_posture(self, stepped: Stepped, posture: Posture) -> float:
        """How much the figure grows by a step where every body stays where it stands."""


class Measured(Protocol):
    """A figure that can be worked out at any posture of a mechanism."""

    def values(self, mechanism: Mechanism, posture: Posture) -> Floats:
        """The figure (N,) at each posture."""


@dataclass(frozen=True, slots=True, eq=False)
class MeasuredPlace:
    """A figure without solids, at ``settings`` (d,): differences of it are taken directly."""

    figure: Measured
    settings: Floats

    def gradient(self, mechanism: Mechanism, posture: Posture) -> Floats:
        """By central differences over every unknown, as one stack of postures."""
        count = 6 * (len(mechanism.bodies) - 1)
        steps = NUDGE * np.concatenate([np.eye(count), -np.eye(count)])
        around = moved(posture.take(np.zeros(2 * count, dtype=np.intp)), steps, mechanism.equations.scale)
        up, down = np.split(self.figure.values(mechanism, around), 2)
        return np.asarray((up - down) / (2 * NUDGE))

    def at_posture(self, stepped: Stepped, posture: Posture) -> float:
        """The figure of the changed joints less that of the unchanged ones."""
        if stepped.mechanism is stepped.before:
            return 0.0
        after, before = (self.figure.values(each, posture)[0] for each in (stepped.mechanism, stepped.before))
        return float(after - before)


@dataclass(frozen=True, slots=True, eq=False)
class Reserve:
    """What a motion of a joint keeps of one of its limits, in the motion's unit.

    ``downward``: of the lower limit. ``value`` is the motion at the setting, which tells whole turns apart, and
    ``drawn`` a turning motion as the file has it, whose mark goes with the axis where that is drawn otherwise.
    ``roll`` in degrees is that of the rod that the joint is an end of; at ``best_roll`` it is rolled at each posture to
    where all of its ends have the most room.
    """

    joint: str
    motion: str
    downward: bool
    value: float
    drawn: PinTurn | None = None
    roll: float = 0.0
    best_roll: bool = False

    def values(self, mechanism: Mechanism, posture: Posture) -> Floats:
        """What is left (N,)."""
        joint = mechanism.machine.joints[self.joint]
        motion = next(each for each in motions_of(joint, mechanism.bodies) if each.name == self.motion)
        low, high = stated_limits(joint, motion)
        if self.best_roll:
            limit = next(each for each in limits_of(mechanism) if each.joint == self.joint)
            moved_by = limit.values(posture)
        else:
            moved_by = self._motion(mechanism, motion).values(posture)
        if motion.turning:
            moved_by = nearest_turn(moved_by, np.full(len(moved_by), self.value))
        return moved_by - (low or 0.0) if self.downward else (high or 0.0) - moved_by

    def _motion(self, mechanism: Mechanism, motion: JointMotion) -> JointMotion:
        """The motion with its rod rolled, or with the mark that it has as drawn."""
        if self.drawn is not None and isinstance(motion, PinTurn):
            carried = shortest_turn(vector(self.drawn.axis), vector(motion.axis)) @ self.drawn.mark
            return replace(motion, mark=carried)
        if not self.roll or not isinstance(motion, Lean):
            return motion
        ends = (end for rod in rods_of(mechanism) for end in rod.ends if end.joint == self.joint)
        return next(ends).rolled(self.roll)


@dataclass(frozen=True, slots=True, eq=False)
class RollReserve:
    """How far in degrees, from end to end, a rod can roll before one of its ends runs out; ``ends`` tell which rod."""

    ends: tuple[str, ...]

    def values(self, mechanism: Mechanism, posture: Posture) -> Floats:
        """The roll that is left (N,)."""
        rod = next(rod for rod in rods_of(mechanism) if tuple(end.joint for end in rod.ends) == self.ends)
        return 2 * windows(rod, posture).free()


@dataclass(frozen=True, slots=True, eq=False)
class EndRoom:
    """What the ``joint`` at an end of a rod keeps of its limit, at the roll that the posture has, in degrees."""

    joint: str

    def values(self, mechanism: Mechanism, posture: Posture) -> Floats:
        """What is left (N,)."""
        end = next(end for rod in rods_of(mechanism) for end in rod.ends if end.joint == self.joint)
        return end.limit - end.lean.values(posture)
