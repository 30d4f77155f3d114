"""What is known of the motion of every body in cells of settings, as plain values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import lengths
from assembly.kinematics.array_stacks import taken
from assembly.kinematics.rows import Posture
from assembly.kinematics.rows.base import tail

OF_BODIES = (
    *("shift_rate", "turn_rate", "shift_bend", "turn_bend", "shift_rest", "turn_rest"),
    *("shift_residual", "turn_residual", "turn", "shift_box", "turn_box"),
)
"""What a cell's motion has of each body."""


@dataclass(frozen=True, eq=False)
class CellMotion:
    """Bounds on the motion of every body over N cells of settings.

    ``half`` (N, d) half-widths in drive units. Of the motion away from the cell's centre: ``shift_rate`` and
    ``turn_rate`` (N, B, d, 3) first derivatives in mm and rad per drive unit, ``shift_bend`` and ``turn_bend``
    (N, B, d, d, 3) second derivatives, and ``shift_rest`` (N, B) mm and ``turn_rest`` (N, B) rad, bounds on what those
    leave out, the solver's miss included, whose own part is ``shift_residual`` and ``turn_residual``. ``turn``
    (N, B) rad bounds the first-order turning; ``shift_box`` and ``turn_box`` (N, B) are the widest rest in which no
    other posture is met, infinite for bodies that are rolled. ``missed`` (N, k) mm: what rows of each of the k blocks
    with rows to spare may miss; the bounds hold at all postures at which they miss no more. ``certified`` (N,): the
    branch is proven to exist and to be ours in the whole cell; where False, nothing is bounded.
    """

    settings: Floats
    half: Floats
    posture: Posture
    shift_rate: Floats
    turn_rate: Floats
    shift_bend: Floats
    turn_bend: Floats
    shift_rest: Floats
    turn_rest: Floats
    shift_residual: Floats
    turn_residual: Floats
    turn: Floats
    shift_box: Floats
    turn_box: Floats
    missed: Floats
    certified: NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.settings)

    @cached_property
    def curl(self) -> Floats:
        """Bounds (N, B) rad on the second-order part of each body's turning."""
        (count, drives), bodies = self.half.shape, self.turn_bend.shape[1]
        pairs = (self.half[:, :, None] * self.half[:, None]).reshape(count, drives**2)
        sizes = lengths(self.turn_bend).reshape(count, bodies, drives**2)
        return np.asarray(0.5 * np.einsum("nbk,nk->nb", sizes, pairs))

    @cached_property
    def tilt(self) -> Floats:
        """Bounds (N, B) on what the first two orders of a unit lever of each body leave out."""
        return self.turn_rest + tail(self.turn, self.curl + self.turn_rest)

    def take(self, index: NDArray[np.intp]) -> CellMotion:
        """The bounds of the cells at ``index``."""
        return taken(self, index)

    def of_bodies(self, index: NDArray[np.intp], bodies: Sequence[int]) -> CellMotion:
        """The bounds of some bodies only, in this order, in the cells at ``index``."""
        each = index[:, None], np.asarray(bodies, dtype=np.intp)
        arrays: dict[str, Any] = {name: getattr(self, name)[each] for name in OF_BODIES}
        arrays |= {name: getattr(self, name)[index] for name in ("settings", "half", "missed", "certified")}
        return CellMotion(posture=self.posture.of_bodies(index, bodies), **arrays)


@dataclass(frozen=True, slots=True, eq=False)
class BodiesMotion:
    """``motion`` of some ``bodies`` only; ``rest`` (k, 3) mm: their reference points as drawn."""

    motion: CellMotion
    bodies: tuple[int, ...]
    rest: Floats

    def __len__(self) -> int:
        return len(self.motion)

    def number(self, body: int) -> int:
        """Which of the bodies of ``motion`` is the machine's ``body``."""
        return self.bodies.index(body)

    def take(self, index: NDArray[np.intp]) -> BodiesMotion:
        """The bounds of the cells at ``index``."""
        return BodiesMotion(self.motion.take(index), self.bodies, self.rest)

    def world_from_rest(self, body: int) -> Floats:
        """(N, 4, 4): where what is drawn in the machine's ``body`` stands at the cells' centres."""
        number = self.number(body)
        return self.motion.posture.world_from_rest(number, self.rest[number])
