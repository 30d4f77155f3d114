"""The angle that a drive asks for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import cross
from assembly.kinematics.rows.base import BodyIds, Posture, Rates, Reach, Slopes, dot, slopes_of, tail, turned_vectors
from assembly.kinematics.rows.square import angle_curvature


@dataclass(frozen=True, slots=True, eq=False)
class Turn:
    """The angle of the second body against the first about ``axis`` (unit, fixed in the first) equals its target.

    For bounds the row is read as ``scale · (n turned by the drive) · v = 0``, with v the second body's mark and n
    square to it about the axis, fixed in the first body: the same zero and the same slopes, and no arc tangent.
    Its curvature is that of n and v alone, as the drive turns n along v.
    """

    first: BodyIds
    second: BodyIds
    axis: Floats
    mark: Floats
    """A direction square to ``axis``, the same in both bodies at rest (m, 3)."""
    scale: float

    def angles(self, posture: Posture) -> Floats:
        """Angle (N, m) rad in (-π, π]."""
        axis = turned_vectors(posture, self.first, self.axis)
        u = turned_vectors(posture, self.first, self.mark)
        v = turned_vectors(posture, self.second, self.mark)
        return np.arctan2(dot(cross(axis, u), v), dot(u, v))

    def values(self, posture: Posture, targets: Floats) -> Floats:
        miss = self.angles(posture) - targets
        return np.asarray(self.scale * (miss - 2 * np.pi * np.round(miss / (2 * np.pi))))

    def slopes(self, posture: Posture) -> Slopes:
        about = self.scale * turned_vectors(posture, self.first, self.axis)
        still = np.zeros_like(about)
        return slopes_of(still, still, -about, about, self.scale)

    def curvature(self, posture: Posture, rates: Rates) -> Floats:
        v = turned_vectors(posture, self.second, self.mark)
        n = cross(turned_vectors(posture, self.first, self.axis), v)
        return angle_curvature(self.scale, n, v, rates.turn[:, self.first], rates.turn[:, self.second])

    def third_order(self, posture: Posture, linear: Reach, rest: Reach, spans: Floats) -> Floats:  # noqa: ARG002
        turn = linear.turn[:, self.first] + linear.turn[:, self.second] + spans
        return self.scale * tail(turn, rest.turn[:, self.first] + rest.turn[:, self.second])
