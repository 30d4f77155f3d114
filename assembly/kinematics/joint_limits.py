"""The limits that a mechanism file gives to its joints, each as one motion that must stay between two values."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.kinematics.joint_motion import JointMotion, Lean, motions_of, stated_limits
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rod_roll import Rod, rods_of, windows
from assembly.kinematics.rows import Posture


@dataclass(frozen=True, slots=True)
class Limit:
    """A motion of ``joint`` that must stay between ``low`` and ``high``, in the motion's unit; infinite where free.

    The end of a ``rod`` that can roll is judged at the roll that leaves all ends of the rod the most room.
    """

    joint: str
    motion: JointMotion
    low: float
    high: float
    rod: Rod | None = None

    @property
    def stated(self) -> tuple[float | None, float | None]:
        """The lowest and the highest, None where free."""
        low, high = (end if np.isfinite(end) else None for end in (self.low, self.high))
        return low, high

    def values(self, posture: Posture) -> Floats:
        """How far (N,) the joint has moved."""
        end = next((end for end in self.rod.ends if end.joint == self.joint), None) if self.rod else None
        if self.rod is None or end is None:
            return self.motion.values(posture)
        return end.rolled(windows(self.rod, posture).best()[0]).values(posture)

    def reserve(self, posture: Posture) -> Floats:
        """What is left (N,) to the nearer limit, below 0 past it."""
        values = self.values(posture)
        return np.minimum(self.high - values, values - self.low)


def limits_of(mechanism: Mechanism) -> tuple[Limit, ...]:
    """Every limit that the file gives to a joint."""
    found = []
    rolling = {end.joint: rod for rod in rods_of(mechanism) for end in rod.ends}
    for joint in mechanism.machine.joints.values():
        for motion in motions_of(joint, mechanism.bodies):
            low, high = stated_limits(joint, motion)
            if low is not None or high is not None:
                ends = -np.inf if low is None else low, np.inf if high is None else high
                rod = rolling.get(joint.name) if isinstance(motion, Lean) else None
                found.append(Limit(joint.name, motion, *ends, rod))
    return tuple(found)
