"""Whether a part that can roll about its own line bears on ways through points, at whatever setting."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.kinematics.figures import FigureMotion
from assembly.kinematics.freedoms import IdleRoll
from assembly.kinematics.idle_rolls import line_in
from assembly.kinematics.measure_figures import PATHS, MeasureFigure
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.scalar_quantity import ScalarQuantity

ON_LINE = 1e-6
"""mm: what lies no farther from the line of a roll does not move in it."""
Way = Sequence[tuple[int, Floats]]
"""Points as drawn (3,) mm, each with its body."""


def ways_of(motion: ScalarQuantity) -> list[Way]:
    """The ways that a figure of a cable adds up; none of any other figure."""
    figure = motion.figure if isinstance(motion, FigureMotion) else None
    if not isinstance(figure, MeasureFigure) or figure.measure.kind not in PATHS:
        return []
    points = [
        (body, np.array(feature.at)) for body, feature in zip(figure.of_features, figure.measure.features, strict=True)
    ]
    return [[points[number] for number in path.points] for path in figure.measure.paths]


def bears_on(mechanism: Mechanism, roll: IdleRoll, way: Way) -> bool:
    """Whether the roll moves some points of a way against others, which a hose that is long enough may hide."""
    own = [number for number, (body, _) in enumerate(way) if body in roll.bodies]
    return len(own) < len(way) and any(_off_line(mechanism, roll, *way[number]) > ON_LINE for number in own)


def _off_line(mechanism: Mechanism, roll: IdleRoll, body: int, at: Floats) -> float:
    """How far a point of a body that rolls lies from the line."""
    home = mechanism.home
    start = home.rotations[0, body].T @ (roll.at - home.centres[0, body]) + mechanism.bodies.centres[body]
    return float(np.linalg.norm(np.cross(at - start, line_in(roll, body, home))))
