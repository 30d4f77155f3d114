"""A point at a given distance along a direction."""

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
class Offset:
    """How far the second body's point lies along a direction fixed in the first body, from the first's point."""

    first: BodyIds
    second: BodyIds
    lever_first: Floats
    lever_second: Floats
    direction: Floats
    scale: float

    def _apart(self, posture: Posture) -> Floats:
        first = posture.centres[:, self.first] + turned_vectors(posture, self.first, self.lever_first)
        return posture.centres[:, self.second] + turned_vectors(posture, self.second, self.lever_second) - first

    def values(self, posture: Posture, targets: Floats) -> Floats:
        return dot(turned_vectors(posture, self.first, self.direction), self._apart(posture)) - targets

    def slopes(self, posture: Posture) -> Slopes:
        direction = turned_vectors(posture, self.first, self.direction)
        lever_second = turned_vectors(posture, self.second, self.lever_second)
        seen_from_first = posture.centres[:, self.second] + lever_second - posture.centres[:, self.first]
        about_first = -cross(seen_from_first, direction)
        return slopes_of(-direction, direction, about_first, cross(lever_second, direction), self.scale)

    def _sizes(self) -> tuple[Floats, Floats]:
        return np.linalg.norm(self.lever_first, axis=-1), np.linalg.norm(self.lever_second, axis=-1)

    def _slip(self, reach: Reach) -> Floats:
        """How far the points can move against each other to first order (N, m) mm."""
        size_first, size_second = self._sizes()
        first = reach.shift[:, self.first] + reach.turn[:, self.first] * size_first
        return np.asarray(first + reach.shift[:, self.second] + reach.turn[:, self.second] * size_second)

    def farthest(self, posture: Posture, reach: Reach) -> Floats:
        """How far (N, m) mm the two points may be apart where bodies get as far as ``reach`` from postures."""
        return np.asarray(np.linalg.norm(self._apart(posture), axis=-1) + self._slip(reach))

    def curvature(self, posture: Posture, rates: Rates) -> Floats:
        direction = turned_vectors(posture, self.first, self.direction)
        lever_first = turned_vectors(posture, self.first, self.lever_first)
        lever_second = turned_vectors(posture, self.second, self.lever_second)
        turn_first, turn_second = rates.turn[:, self.first], rates.turn[:, self.second]
        slip = rates.shift[:, self.second] + cross(turn_second, lever_second[:, :, None])
        slip = slip - rates.shift[:, self.first] - cross(turn_first, lever_first[:, :, None])
        points = dot(bend(turn_second, lever_second) - bend(turn_first, lever_first), direction[:, :, None, None])
        tilt = dot(bend(turn_first, direction), self._apart(posture)[:, :, None, None])
        return points + tilt + crossed(cross(turn_first, direction[:, :, None]), slip)

    def third_order(self, posture: Posture, linear: Reach, rest: Reach, spans: Floats) -> Floats:  # noqa: ARG002
        size_first, size_second = self._sizes()
        whole = linear + rest
        turn_first, turn_second = whole.turn[:, self.first], whole.turn[:, self.second]
        tail_first = tail(linear.turn[:, self.first], rest.turn[:, self.first])
        tail_second = tail(linear.turn[:, self.second], rest.turn[:, self.second])
        points = tail_first * (size_first + np.linalg.norm(self._apart(posture), axis=-1)) + tail_second * size_second
        bowed = 0.5 * (turn_first**2 * size_first + turn_second**2 * size_second)
        mixed = rest.turn[:, self.first] * self._slip(whole) + linear.turn[:, self.first] * self._slip(rest)
        return np.asarray(points + mixed + 0.5 * turn_first**2 * (self._slip(whole) + bowed) + turn_first * bowed)
