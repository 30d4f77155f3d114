"""What is known of the motion of every body in cells of settings, as plain values."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats
from assembly.kinematics.array_stacks import taken
from assembly.kinematics.rows import Posture


@dataclass(frozen=True, slots=True, eq=False)
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

    def take(self, index: NDArray[np.intp]) -> CellMotion:
        """The bounds of the cells at ``index``."""
        return taken(self, index)
