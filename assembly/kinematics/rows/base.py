"""What all families of rows share: postures, reaches, and the contract of a row.

A body's motion away from a posture is a shift ``t`` of its centre (mm, world) and a rotation vector
``w`` (rad, world): a point at lever ``r`` from the centre moves by ``t + (exp(w) - 1) r``, that is by
``t + w × r`` to first order, ``w × (w × r) / 2`` to second, and at most ``|w|³/6 · |r|`` beyond that (closed
form: the remainder of the exponential of a skew matrix).

Rows that speak of angles are multiplied by the machine's ``scale`` (mm), and rotation unknowns are
``scale · w``, so every value and every unknown is a length and ranks can be judged by one tolerance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import inner

BodyIds = NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Posture:
    """Where every body stands at N settings.

    ``centres`` (N, B, 3) mm: each body's reference point in the world; ``rotations`` (N, B, 3, 3):
    ``world_from_rest``. Body 0 is the ground and never moves.
    """

    centres: Floats
    rotations: Floats

    def __len__(self) -> int:
        return len(self.centres)

    def take(self, index: NDArray[np.intp] | NDArray[np.bool_]) -> Posture:
        """The postures at ``index``."""
        return Posture(self.centres[index], self.rotations[index])

    def of_bodies(self, index: NDArray[np.intp], bodies: Sequence[int]) -> Posture:
        """The postures at ``index`` (n,) of some bodies only, in this order."""
        each = index[:, None], np.asarray(bodies, dtype=np.intp)
        return Posture(self.centres[each], self.rotations[each])

    def world_from_rest(self, body: int, rest: Floats) -> Floats:
        """(N, 4, 4): where what is drawn in a body stands, whose reference point is drawn at ``rest`` (3,) mm."""
        transforms = np.zeros((len(self), 4, 4))
        transforms[:, 3, 3] = 1.0
        transforms[:, :3, :3] = self.rotations[:, body]
        transforms[:, :3, 3] = self.centres[:, body] - self.rotations[:, body] @ rest
        return transforms


@dataclass(frozen=True, slots=True, eq=False)
class Slopes:
    """Derivatives of m rows: ``first`` and ``second`` (N, m, 6) over (shift, scale · rotation) of the two bodies."""

    first: Floats
    second: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Rates:
    """How bodies move per unit of each drive: ``shift`` and ``turn`` (N, B, d, 3), mm and rad."""

    shift: Floats
    turn: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Reach:
    """How far bodies may move inside a cell: ``shift`` (N, B) mm of the centre and ``turn`` (N, B) rad."""

    shift: Floats
    turn: Floats

    def __add__(self, other: Reach) -> Reach:
        return Reach(self.shift + other.shift, self.turn + other.turn)


class Rows(Protocol):
    """A family of equations between body ``first[k]`` and body ``second[k]``, k = 0..m-1.

    ``spans`` (N, m) is how far the targets may vary inside the cell, in rad or mm.
    """

    @property
    def first(self) -> BodyIds:
        """First body of each row."""

    @property
    def second(self) -> BodyIds:
        """Second body of each row."""

    def values(self, posture: Posture, targets: Floats) -> Floats:
        """Misses (N, m) in mm; ``targets`` (N, m) are what drives ask of these rows (rad or mm)."""

    def slopes(self, posture: Posture) -> Slopes:
        """Derivatives of ``values``."""

    def curvature(self, posture: Posture, rates: Rates) -> Floats:
        """Second derivatives (N, m, d, d) mm of ``values`` along motions at constant ``rates``."""

    def third_order(self, posture: Posture, linear: Reach, rest: Reach, spans: Floats) -> Floats:
        """Bound (N, m) mm on what slopes and curvature leave out where motion is ``linear`` and up to ``rest`` more."""


def slopes_of(first: Floats, second: Floats, about_first: Floats, about_second: Floats, scale: float) -> Slopes:
    """Slopes from derivatives over shifts (N, m, 3) and over rotation vectors (N, m, 3)."""
    return Slopes(
        np.concatenate([first, about_first / scale], axis=-1), np.concatenate([second, about_second / scale], axis=-1)
    )


def turned_vectors(posture: Posture, bodies: BodyIds, vectors: Floats) -> Floats:
    """Vectors (m, 3) of bodies at rest as they stand (N, m, 3)."""
    return np.asarray(np.einsum("nmij,mj->nmi", posture.rotations[:, bodies], vectors))


def dot(a: Floats, b: Floats) -> Floats:
    """Inner products over the last axis."""
    return inner(a, b) if a.shape[-1] == 3 and b.shape[-1] == 3 else np.asarray((a * b).sum(axis=-1))


def bend(turn: Floats, vectors: Floats) -> Floats:
    """Second derivative (..., d, d, 3) of ``vectors`` (..., 3) turned at rates ``turn`` (..., d, 3).

    ``w × (w × v)`` made symmetric in the drives.
    """
    along = dot(turn, vectors[..., None, :])
    mixed = turn[..., :, None, :] * along[..., None, :, None]
    sizes = inner(turn[..., :, None, :], turn[..., None, :, :])
    return np.asarray(0.5 * (mixed + np.swapaxes(mixed, -2, -3)) - sizes[..., None] * vectors[..., None, None, :])


def crossed(a: Floats, b: Floats) -> Floats:
    """``a_k · b_l + a_l · b_k`` (..., d, d) for rates (..., d, 3)."""
    product = np.einsum("...ki,...li->...kl", a, b)
    return np.asarray(product + np.swapaxes(product, -1, -2))


def tail(linear: Floats, rest: Floats) -> Floats:
    """What the second-order part of a turned unit vector leaves out: turns ``linear`` + up to ``rest`` (rad).

    ``θ³/6`` of the exponential, and what ``rest`` adds to the second-order part of ``linear``.
    """
    return np.asarray((linear + rest) ** 3 / 6 + linear * rest + 0.5 * rest**2)
