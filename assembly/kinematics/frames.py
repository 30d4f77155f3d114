"""Points and directions of bodies as Taylor models: at postures, over cells, and over the bodies' own motions."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import cross, lengths
from assembly.kinematics.cell_bounds import CellMotion
from assembly.kinematics.rows import Posture
from assembly.kinematics.rows.base import bend
from assembly.kinematics.taylor import Taylor


@dataclass(frozen=True, slots=True, eq=False)
class Frames:
    """Bodies at N postures, and how they move over d drives round each.

    ``rest`` (B, 3) mm: the bodies' reference points as drawn. Of each body, per drive unit: ``shift_rate`` and
    ``turn_rate`` (N, B, d, 3), ``shift_bend`` and ``turn_bend`` (N, B, d, d, 3), ``shift_rest`` (N, B) mm and ``tilt``
    (N, B), what these leave out of its reference point and of a unit vector of it; ``half`` (N, d).
    """

    posture: Posture
    rest: Floats
    shift_rate: Floats
    turn_rate: Floats
    shift_bend: Floats
    turn_bend: Floats
    shift_rest: Floats
    tilt: Floats
    half: Floats

    def point(self, body: int, at: Floats) -> Taylor:
        """A point of ``body``, drawn at ``at`` (3,) mm, in the world."""
        lever = self.posture.rotations[:, body] @ (at - self.rest[body])
        turned = self._turned(body, lever)
        return Taylor(
            self.posture.centres[:, body] + lever,
            self.shift_rate[:, body] + turned.first,
            self.shift_bend[:, body] + turned.second,
            self.shift_rest[:, body, None] + turned.rest,
            self.half,
        )

    def direction(self, body: int, along: Floats) -> Taylor:
        """A direction of ``body``, drawn as ``along`` (3,), in the world."""
        return self._turned(body, np.asarray(self.posture.rotations[:, body] @ along))

    def _turned(self, body: int, vectors: Floats) -> Taylor:
        """Vectors (N, 3) that turn with ``body``."""
        turn, twist = self.turn_rate[:, body], self.turn_bend[:, body]
        rest = self.tilt[:, body] * lengths(vectors)
        return Taylor(
            vectors,
            cross(turn, vectors[:, None]),
            cross(twist, vectors[:, None, None]) + bend(turn, vectors),
            np.broadcast_to(rest[:, None], vectors.shape),
            self.half,
        )


def over_cells(motion: CellMotion, rest: Floats) -> Frames:
    """The bodies over cells; what they leave out is not bounded where the motion is not certified."""
    return Frames(
        motion.posture,
        rest,
        motion.shift_rate,
        motion.turn_rate,
        motion.shift_bend,
        motion.turn_bend,
        motion.shift_rest,
        motion.tilt,
        motion.half,
    )


def at_postures(posture: Posture, rest: Floats) -> Frames:
    """The bodies at single postures, without any motion."""
    count, bodies = posture.centres.shape[:2]
    rates, bends = np.zeros((count, bodies, 0, 3)), np.zeros((count, bodies, 0, 0, 3))
    still = np.zeros((count, bodies))
    return Frames(posture, rest, rates, rates, bends, bends, still, still, np.zeros((count, 0)))


def over_unknowns(posture: Posture, rest: Floats, scale: float) -> Frames:
    """The bodies' derivatives over six unknowns of each but the ground: its shift in mm, then ``scale`` · rotation."""
    count, bodies = posture.centres.shape[:2]
    unknowns = 6 * (bodies - 1)
    shift, turn = (np.zeros((count, bodies, unknowns, 3)) for _ in range(2))
    for body in range(1, bodies):
        for k in range(3):
            shift[:, body, 6 * (body - 1) + k, k] = 1.0
            turn[:, body, 6 * (body - 1) + 3 + k, k] = 1.0 / scale
    bends, still = np.zeros((count, bodies, unknowns, unknowns, 3)), np.zeros((count, bodies))
    return Frames(posture, rest, shift, turn, bends, bends, still, still, np.zeros((count, unknowns)))
