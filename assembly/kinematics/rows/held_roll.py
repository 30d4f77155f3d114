"""The roll of a body that nothing keeps from rolling about its own line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import cross, sine_vector
from assembly.kinematics.rows.base import BodyIds, Posture, Rates, Reach, Slopes, dot, slopes_of, turned_vectors

WIDEST_SWING = 3.0
"""rad: where the line may swing farther from where it is drawn nothing is bounded; half a turn has no shortest way."""


@dataclass(frozen=True, slots=True, eq=False)
class HeldRoll:
    """The body's roll about ``axis``, as drawn, equals ``held`` and its target (rad), right-handed.

    With ``a`` the axis as drawn and ``p`` as it stands, the body's rotation is the shortest turn from a to p after a
    roll φ about a. Along a turning w, with c = a · p (closed form, by the spherical area that p sweeps against a),

        φ' = w · (a + p) / (1 + c),    φ'' = -(w · (a + p)) (w · (p × a)) / (1 + c)²,

    and with β the angle of the swing, C = cos(β/2), S = sin(β/2), for |w| = 1,

        |φ''| <= S / (2 C²),    |φ'''| <= (1 + 4 S²) / (2 C³),

    both of which grow with β. The target enters linearly and adds nothing to any bound.
    """

    first: BodyIds
    """Always the ground."""
    second: BodyIds
    axis: Floats
    held: Floats
    """(m,) rad: the roll at target 0."""
    scale: float

    def rolls(self, posture: Posture) -> Floats:
        """φ (N, m) rad in (-π, π]."""
        R = posture.rotations[:, self.second]
        cosine = dot(turned_vectors(posture, self.second, self.axis), self.axis)
        trace = np.trace(R, axis1=-2, axis2=-1)
        return np.asarray(np.arctan2(2 * dot(sine_vector(R), self.axis), trace - cosine))

    def values(self, posture: Posture, targets: Floats) -> Floats:
        miss = self.rolls(posture) - self.held - targets
        return np.asarray(self.scale * (miss - 2 * np.pi * np.round(miss / (2 * np.pi))))

    def slopes(self, posture: Posture) -> Slopes:
        stands = turned_vectors(posture, self.second, self.axis)
        about = self.scale * (self.axis + stands) / (1 + dot(stands, self.axis))[..., None]
        still = np.zeros_like(about)
        return slopes_of(still, still, still, about, self.scale)

    def curvature(self, posture: Posture, rates: Rates) -> Floats:
        turn, stands = rates.turn[:, self.second], turned_vectors(posture, self.second, self.axis)
        along = dot(turn, (self.axis + stands)[:, :, None])
        across = dot(turn, cross(stands, self.axis)[:, :, None])
        product = along[..., :, None] * across[..., None, :]
        size = (1 + dot(stands, self.axis))[..., None, None]
        return np.asarray(-0.5 * self.scale * (product + np.swapaxes(product, -1, -2)) / size**2)

    def third_order(self, posture: Posture, linear: Reach, rest: Reach, spans: Floats) -> Floats:  # noqa: ARG002 - shared
        first, more = linear.turn[:, self.second], rest.turn[:, self.second]
        swing = self._swing(posture)
        whole, mixed = first + more, _times(_bending(swing), first * more + 0.5 * more**2)
        return np.asarray(self.scale * (_times(_bending_rate(swing + whole), whole**3 / 6) + mixed))

    def _swing(self, posture: Posture) -> Floats:
        """β (N, m) rad."""
        stands = turned_vectors(posture, self.second, self.axis)
        return np.asarray(np.arctan2(np.linalg.norm(cross(self.axis, stands), axis=-1), dot(stands, self.axis)))


def _bending(swing: Floats) -> Floats:
    """Bound on |φ''| for |w| = 1 where the line has swung by up to ``swing``."""
    half = np.minimum(swing, WIDEST_SWING) / 2
    return np.where(swing < WIDEST_SWING, np.sin(half) / (2 * np.cos(half) ** 2), np.inf)


def _bending_rate(swing: Floats) -> Floats:
    """Bound on |φ'''| for |w| = 1 where the line has swung by up to ``swing``."""
    half = np.minimum(swing, WIDEST_SWING) / 2
    return np.where(swing < WIDEST_SWING, (1 + 4 * np.sin(half) ** 2) / (2 * np.cos(half) ** 3), np.inf)


def _times(bound: Floats, size: Floats) -> Floats:
    """Their product; nothing where nothing moves, whatever the bound."""
    return np.asarray(np.multiply(bound, size, out=np.zeros_like(size), where=size > 0))
