"""The rule for a body that nothing keeps from rolling."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import sine_vector
from assembly.motion.rows.base import Bodies, Posture, Rates, Reach, Slopes, dot, slopes_of, tail


@dataclass(frozen=True, slots=True, eq=False)
class NoRoll:
    """The body takes the shortest turn from rest: no turning about ``axis`` as drawn.

    The value is ``axis · sine_vector(R)``, half the inner product of a skew matrix of norm √2 with R; what is left out
    of ``exp(w) R`` has the norm √2 · (its angle form), so the bounds are those of a turned unit vector (closed form).
    """

    first: Bodies
    """Always the ground."""
    second: Bodies
    axis: Floats
    scale: float

    def values(self, posture: Posture, targets: Floats) -> Floats:  # noqa: ARG002 - one signature for all families
        return self.scale * dot(sine_vector(posture.rotations[:, self.second]), self.axis)

    def slopes(self, posture: Posture) -> Slopes:
        R = posture.rotations[:, self.second]
        trace = np.trace(R, axis1=-2, axis2=-1)[..., None]
        about = 0.5 * self.scale * (trace * self.axis - np.einsum("nmji,mj->nmi", R, self.axis))
        still = np.zeros_like(about)
        return slopes_of(still, still, still, about, self.scale)

    def second_order(self, posture: Posture, reach: Reach, spans: Floats) -> Floats:  # noqa: ARG002
        return 0.5 * self.scale * reach.turn[:, self.second] ** 2

    def curvature(self, posture: Posture, rates: Rates) -> Floats:
        turn = rates.turn[:, self.second]
        product = turn[..., :, None, :, None] * turn[..., None, :, None, :]
        sizes = np.einsum("nmki,nmli->nmkl", turn, turn)[..., None, None]
        twice = 0.5 * (product + np.swapaxes(product, -1, -2)) - sizes * np.eye(3)
        bent = sine_vector(twice @ posture.rotations[:, self.second][:, :, None, None])
        return self.scale * dot(bent, self.axis[:, None, None])

    def third_order(self, posture: Posture, linear: Reach, rest: Reach, spans: Floats) -> Floats:  # noqa: ARG002
        return self.scale * tail(linear.turn[:, self.second], rest.turn[:, self.second])
