"""Two directions at a fixed angle to each other."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import cross
from assembly.kinematics.rows.base import (
    BodyIds,
    Posture,
    Rates,
    Reach,
    Slopes,
    bend,
    crossed,
    dot,
    slopes_of,
    tail,
    turned_vectors,
)


@dataclass(frozen=True, slots=True, eq=False)
class Square:
    """The cosine between a direction of each body (unit, at rest) keeps the value ``cosine`` (m,)."""

    first: BodyIds
    second: BodyIds
    direction_first: Floats
    direction_second: Floats
    cosine: Floats
    scale: float

    def values(self, posture: Posture, targets: Floats) -> Floats:  # noqa: ARG002 - one signature for all families
        a = turned_vectors(posture, self.first, self.direction_first)
        b = turned_vectors(posture, self.second, self.direction_second)
        return self.scale * (dot(a, b) - self.cosine)

    def slopes(self, posture: Posture) -> Slopes:
        a = turned_vectors(posture, self.first, self.direction_first)
        b = turned_vectors(posture, self.second, self.direction_second)
        about = self.scale * cross(a, b)
        still = np.zeros_like(about)
        return slopes_of(still, still, about, -about, self.scale)

    def curvature(self, posture: Posture, rates: Rates) -> Floats:
        a = turned_vectors(posture, self.first, self.direction_first)
        b = turned_vectors(posture, self.second, self.direction_second)
        return angle_curvature(self.scale, a, b, rates.turn[:, self.first], rates.turn[:, self.second])

    def third_order(self, posture: Posture, linear: Reach, rest: Reach, spans: Floats) -> Floats:  # noqa: ARG002
        turn = linear.turn[:, self.first] + linear.turn[:, self.second]
        return self.scale * tail(turn, rest.turn[:, self.first] + rest.turn[:, self.second])


def angle_curvature(scale: float, a: Floats, b: Floats, turn_a: Floats, turn_b: Floats) -> Floats:
    """Second derivatives (N, m, d, d) of ``scale · (a · b)``; a, b (N, m, 3) turn at rates (N, m, d, 3)."""
    own = dot(bend(turn_a, a), b[:, :, None, None]) + dot(bend(turn_b, b), a[:, :, None, None])
    return np.asarray(scale * (own + crossed(cross(turn_a, a[:, :, None]), cross(turn_b, b[:, :, None]))))
