"""Where a direction of one body points, seen from another, anywhere inside a cell: what carries angles between poses.

A direction ``m`` fixed to body b and a direction ``k`` carried by body a, both as they stand at the cell's centre:
with rotation vectors ``w`` of the motion away from there,

    exp(w_a) k · exp(w_b) m = k · m + exp(w_a) k · u,    u = exp(w_b) m - exp(w_a) m,

so the component is the one at the centre and, as in ``approach``, exact terms of first and second order in ``u`` and
``w_a`` and a bounded rest. The rest is the same for every unit ``k``: it bounds the length of the whole vector.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import cross, lengths
from assembly.kinematics.cell_motion import CellMotion
from assembly.kinematics.expansion import ROUNDING
from assembly.kinematics.rows import Posture
from assembly.kinematics.rows.base import bend, dot, tail
from assembly.kinematics.travel import corner_norm, curl


@dataclass(frozen=True, slots=True, eq=False)
class Pointing:
    """Components (N, K) of a direction along K directions that another body carries, in N cells.

    ``half`` (N, d) are the cells' half-widths; ``value`` (N, K) the components at their centres; ``first`` (N, K, d)
    and ``second`` (N, K, d, d) derivatives per drive unit; and ``rest`` (N,) bounds the length of what those leave out.
    """

    value: Floats
    first: Floats
    second: Floats
    rest: Floats
    half: Floats

    def interval(self, k: int) -> tuple[Floats, Floats]:
        """Least and largest (N,), (N,) component ``k`` may have anywhere in the cells."""
        reach = np.einsum("nd,nd->n", np.abs(self.first[:, k]), self.half)
        reach = ROUNDING * (reach + _curved(np.abs(self.second[:, k]), self.half) + self.rest)
        return self.value[:, k] - reach, self.value[:, k] + reach

    def longest(self, count: int) -> tuple[Floats, Floats]:
        """Bound (N,) on the length of the first ``count`` components, and the corners' signs (N, d) nearest to it."""
        corners = np.array(list(product((-1.0, 1.0), repeat=self.half.shape[1])))
        steps = np.einsum("nkd,nd,cd->nck", self.first[:, :count], self.half, corners)
        lengths = np.linalg.norm(self.value[:, None, :count] + steps, axis=2)
        curved = _curved(np.linalg.norm(self.second[:, :count], axis=1), self.half)
        return ROUNDING * (lengths.max(axis=1) + curved + self.rest), corners[lengths.argmax(axis=1)]


def pointing(motion: CellMotion, body: int, other: int, direction: Floats, frame: Floats) -> Pointing:
    """Components of ``direction``, fixed to ``body`` and given at rest, along ``frame`` (N, K, 3).

    ``direction`` (3,) is the same in all cells, or (N, 3) one for each. ``frame`` holds unit directions in the world at
    the cells' centres, carried along by ``other``.
    """
    stands = standing(motion.posture, body, direction)
    own, held = motion.turn_rate[:, body], motion.turn_rate[:, other]
    moved = cross(own - held, stands[:, None])
    bent = cross(motion.turn_bend[:, body] - motion.turn_bend[:, other], stands[:, None, None])
    bent = bent + bend(own, stands) - bend(held, stands)
    tipping = np.einsum("nkdi,nei->nkde", cross(held[:, None], frame[:, :, None]), moved)
    second = np.einsum("nki,ndei->nkde", frame, bent) + tipping + np.swapaxes(tipping, -1, -2)
    sizes = corner_norm(moved, motion.half), _curved(lengths(bent), motion.half)
    rest = _rest(motion, body, other, *sizes)
    return Pointing(
        value=dot(frame, stands[:, None]),
        first=np.einsum("nki,ndi->nkd", frame, moved),
        second=second,
        rest=np.where(motion.certified, rest, np.inf),
        half=motion.half,
    )


def standing(posture: Posture, body: int, direction: Floats) -> Floats:
    """A direction of ``body`` at rest, (3,) or one for each posture (N, 3), as it stands at N postures (N, 3)."""
    return np.asarray((posture.rotations[:, body] @ direction[..., None])[..., 0])


def _rest(motion: CellMotion, body: int, other: int, first: Floats, second: Floats) -> Floats:
    """What terms of first and second order leave out (N,), from bounds on ``u``'s parts of these orders."""
    third = np.zeros(len(motion))
    for index in (body, other):
        more = curl(motion, index) + motion.turn_rest[:, index]
        third = third + motion.turn_rest[:, index] + tail(motion.turn[:, index], more)
    turn, more = motion.turn[:, other], curl(motion, other) + motion.turn_rest[:, other]
    tipped = more + 0.5 * (turn + more) ** 2
    return np.asarray(third + turn * (second + third) + tipped * (first + second + third))


def _curved(second: Floats, half: Floats) -> Floats:
    """Bound (N,) on a second-order part from bounds (N, d, d) on its derivatives."""
    pairs = (half[:, :, None] * half[:, None]).reshape(len(half), half.shape[1] ** 2)
    return np.asarray(0.5 * np.einsum("nk,nk->n", second.reshape(pairs.shape), pairs))
