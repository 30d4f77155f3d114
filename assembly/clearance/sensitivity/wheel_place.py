"""What a figure of wheels keeps of a limit, or what it comes to, as a figure whose slopes are taken."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from assembly.clearance.sensitivity.change import Stepped
from assembly.geometry.mesh import Floats
from assembly.kinematics.frames import at_postures, over_unknowns
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rows import Posture
from assembly.kinematics.stance import layout_of
from assembly.kinematics.wheel_figures import WheelFigure, limits_for
from assembly.model.wheel import Wheels, WheelWord


@dataclass(frozen=True, slots=True, eq=False)
class WheelPlace:
    """The figure ``word`` of some wheels at ``settings`` (d,).

    ``motion``: which limit it keeps so much of, "least" or "most"; "value" for what it comes to.
    """

    word: WheelWord
    of_wheels: tuple[str, ...]
    motion: str
    settings: Floats
    before: dict[str, float] = field(default_factory=dict)
    """What it comes to as the file is, once that is known."""

    def gradient(self, mechanism: Mechanism, posture: Posture) -> Floats:
        """Derivatives (n,) over the unknowns, by the rules that the figure is made of."""
        frames = over_unknowns(posture, mechanism.bodies.centres, mechanism.equations.scale)
        return np.asarray(self._sign * self._figure(mechanism.machine.running, mechanism).of(frames).first[0])

    def at_posture(self, stepped: Stepped, posture: Posture) -> float:
        """What the wheels' own points and sizes, the road and the limits change."""
        after, before = stepped.reading.running, stepped.perturbations.base.running
        if after == before:
            return 0.0
        if not self.before:
            self.before["kept"] = self._kept(before, stepped.before, posture)
        return self._kept(after, stepped.before, posture) - self.before["kept"]

    @property
    def _sign(self) -> float:
        return -1.0 if self.motion == "most" else 1.0

    def _figure(self, wheels: Wheels, mechanism: Mechanism) -> WheelFigure:
        return WheelFigure(self.word, self.of_wheels, layout_of(wheels, mechanism.bodies))

    def _kept(self, wheels: Wheels, mechanism: Mechanism, posture: Posture) -> float:
        value = self._figure(wheels, mechanism).of(at_postures(posture, mechanism.bodies.centres)).value[0]
        limit = next((one for one in limits_for(wheels, self.of_wheels) if one.figure is self.word), None)
        kept = {"least": limit.least, "most": limit.most} if limit is not None else {}
        return float(self._sign * (value - (kept.get(self.motion) or 0.0)))
