"""Two points in one place."""

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
    dot,
    slopes_of,
    tail,
    turned_vectors,
)


@dataclass(frozen=True, slots=True, eq=False)
class SamePoint:
    """A point of each body in one place, seen along ``axis``; levers are from the bodies' centres, at rest, (m, 3)."""

    first: BodyIds
    second: BodyIds
    lever_first: Floats
    lever_second: Floats
    axis: Floats
    scale: float

    def values(self, posture: Posture, targets: Floats) -> Floats:  # noqa: ARG002 - one signature for all families
        apart = posture.centres[:, self.first] + turned_vectors(posture, self.first, self.lever_first)
        apart = apart - posture.centres[:, self.second] - turned_vectors(posture, self.second, self.lever_second)
        return dot(apart, self.axis)

    def slopes(self, posture: Posture) -> Slopes:
        along = np.broadcast_to(self.axis, (len(posture), *self.axis.shape))
        about_first = cross(turned_vectors(posture, self.first, self.lever_first), self.axis)
        about_second = cross(turned_vectors(posture, self.second, self.lever_second), self.axis)
        return slopes_of(along, -along, about_first, -about_second, self.scale)

    def curvature(self, posture: Posture, rates: Rates) -> Floats:
        first = bend(rates.turn[:, self.first], turned_vectors(posture, self.first, self.lever_first))
        second = bend(rates.turn[:, self.second], turned_vectors(posture, self.second, self.lever_second))
        return dot(first - second, self.axis[:, None, None])

    def third_order(self, posture: Posture, linear: Reach, rest: Reach, spans: Floats) -> Floats:  # noqa: ARG002
        first = tail(linear.turn[:, self.first], rest.turn[:, self.first])
        second = tail(linear.turn[:, self.second], rest.turn[:, self.second])
        return np.asarray(
            first * np.linalg.norm(self.lever_first, axis=-1) + second * np.linalg.norm(self.lever_second, axis=-1)
        )
