"""What a measure keeps of a limit, or what it comes to, as a figure whose slopes over the file's numbers are taken."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assembly.clearance.sensitivity.change import Stepped
from assembly.geometry.mesh import Floats
from assembly.kinematics.frames import at_postures, over_unknowns
from assembly.kinematics.joint_motion import nearest_turn
from assembly.kinematics.measure_figures import drawn_value, measure_figure
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rows import Posture
from assembly.model.measure import Measure


@dataclass(frozen=True, slots=True, eq=False)
class MeasurePlace:
    """The measure ``name`` at ``settings`` (d,), where it comes to ``value``; whole turns are told apart by that.

    ``motion``: which limit it keeps so much of, "least" or "most"; "value" for what it comes to.
    """

    name: str
    motion: str
    value: float
    settings: Floats

    def gradient(self, mechanism: Mechanism, posture: Posture) -> Floats:
        """Derivatives (n,) over the unknowns, by the rules that the measure is made of."""
        figure = measure_figure(mechanism.machine.measures[self.name], mechanism.bodies)
        frames = over_unknowns(posture, mechanism.bodies.centres, mechanism.equations.scale)
        return np.asarray(self._sign * figure.of(frames).first[0])

    def at_posture(self, stepped: Stepped, posture: Posture) -> float:
        """What its own points, lines and limits change."""
        now, then = (reading.measures[self.name] for reading in (stepped.perturbations.base, stepped.reading))
        if now == then:
            return 0.0
        return self._kept(then, stepped.before, posture) - self._kept(now, stepped.before, posture)

    @property
    def _sign(self) -> float:
        return -1.0 if self.motion == "most" else 1.0

    def _kept(self, measure: Measure, mechanism: Mechanism, posture: Posture) -> float:
        value = measure_figure(measure, mechanism.bodies).of(at_postures(posture, mechanism.bodies.centres)).value
        if measure.is_turn:
            value = nearest_turn(value, np.full(len(value), self.value))
        if measure.from_zero:
            value = value - drawn_value(measure, mechanism.bodies)
        limit = {"least": measure.least, "most": measure.most}.get(self.motion) or 0.0
        return float(self._sign * (value[0] - limit))
