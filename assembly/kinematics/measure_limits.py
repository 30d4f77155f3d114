"""The limits of measures, as motions that must stay between two values."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.kinematics.joint_limits import Limit
from assembly.kinematics.joint_motion import nearest_turn
from assembly.kinematics.measure_figures import measure_motion
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rows import Posture
from assembly.kinematics.wheel_figures import limited_figures, wheel_motion


@dataclass(frozen=True, slots=True)
class MeasureLimit(Limit):
    """A measure that must stay between ``low`` and ``high``; ``joint`` is its name."""

    def values(self, posture: Posture) -> Floats:
        """What it comes to (N,); of an angle that counts its turns the one that is nearest to its limits."""
        values = self.motion.values(posture)
        if not self.motion.turning:
            return values
        ends = [end for end in (self.low, self.high) if np.isfinite(end)]
        return nearest_turn(values, np.full(len(values), sum(ends) / len(ends)))

    def reserve(self, posture: Posture) -> Floats:
        """What is left (N,) to the nearer limit, below 0 past it; nothing where it has no value."""
        values = self.values(posture)
        left = np.minimum(self.high - values, values - self.low)
        return np.asarray(np.where(np.isnan(values), -np.inf, left))


def measure_limits(mechanism: Mechanism) -> tuple[MeasureLimit, ...]:
    """Every measure that has a limit, and every figure of wheels that has one over the range."""
    made = []
    for one in mechanism.machine.measures.values():
        low, high = one.limits
        if low is not None or high is not None:
            ends = -np.inf if low is None else low, np.inf if high is None else high
            made.append(MeasureLimit(one.name, measure_motion(one, mechanism), *ends))
    for figure, limit in limited_figures(mechanism):
        if limit.at is None:
            ends = -np.inf if limit.least is None else limit.least, np.inf if limit.most is None else limit.most
            made.append(MeasureLimit(figure.name, wheel_motion(mechanism, figure), *ends))
    return tuple(made)
