"""What each joint demands, as rows of equations over the motion of bodies: value, derivative, second-order bound.

A body's motion away from a posture is a shift ``t`` of its centre (mm, world) and a rotation vector
``w`` (rad, world): a point at lever ``r`` from the centre moves by ``t + (exp(w) - 1) r``. The linear
part is ``t + w × r``; what is left over is at most ``|w|²/2 · |r|`` (closed form: chord of an arc
against its tangent). Each family of rows states the bound that follows for its own value.

Rows that speak of angles are multiplied by the machine's ``scale`` (mm), and rotation unknowns are
``scale · w``, so every value and every unknown is a length and ranks can be judged by one tolerance.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import sine_vector

Bodies = NDArray[np.intp]


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


def joined_postures(*postures: Posture) -> Posture:
    """All ``postures`` in one stack."""
    return Posture(
        np.concatenate([posture.centres for posture in postures]),
        np.concatenate([posture.rotations for posture in postures]),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Slopes:
    """Derivatives of m rows: ``first`` and ``second`` (N, m, 6) over (shift, scale · rotation) of the two bodies."""

    first: Floats
    second: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Reach:
    """How far bodies may move inside a cell: ``shift`` (N, B) mm of the centre and ``turn`` (N, B) rad."""

    shift: Floats
    turn: Floats


class Rows(Protocol):
    """A family of equations between body ``first[k]`` and body ``second[k]``, k = 0..m-1."""

    first: Bodies
    second: Bodies

    def values(self, posture: Posture, targets: Floats) -> Floats:
        """Misses (N, m) in mm; ``targets`` (N, m) are what drives ask of these rows (rad or mm)."""

    def slopes(self, posture: Posture) -> Slopes:
        """Derivatives of ``values``."""

    def second_order(self, posture: Posture, reach: Reach, spans: Floats) -> Floats:
        """Bound (N, m) mm on what ``slopes`` leaves out within ``reach``; targets vary by ``spans`` (N, m)."""


def _pair(first: Floats, second: Floats, about_first: Floats, about_second: Floats, scale: float) -> Slopes:
    return Slopes(
        np.concatenate([first, about_first / scale], axis=-1), np.concatenate([second, about_second / scale], axis=-1)
    )


def _turned(posture: Posture, bodies: Bodies, vectors: Floats) -> Floats:
    return np.einsum("nmij,mj->nmi", posture.rotations[:, bodies], vectors)


def _dot(a: Floats, b: Floats) -> Floats:
    return np.asarray(np.einsum("...i,...i->...", a, b))


@dataclass(frozen=True, slots=True, eq=False)
class SamePoint:
    """A point of each body in one place, seen along ``axis``; levers are from the bodies' centres, at rest, (m, 3)."""

    first: Bodies
    second: Bodies
    lever_first: Floats
    lever_second: Floats
    axis: Floats
    scale: float

    def values(self, posture: Posture, targets: Floats) -> Floats:  # noqa: ARG002 - one signature for all families
        apart = posture.centres[:, self.first] + _turned(posture, self.first, self.lever_first)
        apart = apart - posture.centres[:, self.second] - _turned(posture, self.second, self.lever_second)
        return _dot(apart, self.axis)

    def slopes(self, posture: Posture) -> Slopes:
        along = np.broadcast_to(self.axis, (len(posture), *self.axis.shape))
        about_first = np.cross(_turned(posture, self.first, self.lever_first), self.axis)
        about_second = np.cross(_turned(posture, self.second, self.lever_second), self.axis)
        return _pair(along, -along, about_first, -about_second, self.scale)

    def second_order(self, posture: Posture, reach: Reach, spans: Floats) -> Floats:  # noqa: ARG002
        first = reach.turn[:, self.first] ** 2 * np.linalg.norm(self.lever_first, axis=-1)
        second = reach.turn[:, self.second] ** 2 * np.linalg.norm(self.lever_second, axis=-1)
        return 0.5 * (first + second)


@dataclass(frozen=True, slots=True, eq=False)
class Offset:
    """How far the second body's point lies along a direction fixed in the first body, from the first's point."""

    first: Bodies
    second: Bodies
    lever_first: Floats
    lever_second: Floats
    direction: Floats
    scale: float

    def _apart(self, posture: Posture) -> Floats:
        first = posture.centres[:, self.first] + _turned(posture, self.first, self.lever_first)
        return posture.centres[:, self.second] + _turned(posture, self.second, self.lever_second) - first

    def values(self, posture: Posture, targets: Floats) -> Floats:
        return _dot(_turned(posture, self.first, self.direction), self._apart(posture)) - targets

    def slopes(self, posture: Posture) -> Slopes:
        direction = _turned(posture, self.first, self.direction)
        lever_second = _turned(posture, self.second, self.lever_second)
        seen_from_first = posture.centres[:, self.second] + lever_second - posture.centres[:, self.first]
        about_first = -np.cross(seen_from_first, direction)
        return _pair(-direction, direction, about_first, np.cross(lever_second, direction), self.scale)

    def second_order(self, posture: Posture, reach: Reach, spans: Floats) -> Floats:  # noqa: ARG002
        turn_first, turn_second = reach.turn[:, self.first], reach.turn[:, self.second]
        size_first = np.linalg.norm(self.lever_first, axis=-1)
        size_second = np.linalg.norm(self.lever_second, axis=-1)
        points = 0.5 * (turn_first**2 * size_first + turn_second**2 * size_second)
        slip = (
            reach.shift[:, self.first]
            + turn_first * size_first
            + reach.shift[:, self.second]
            + turn_second * size_second
        )
        tilt = 0.5 * turn_first**2 * np.linalg.norm(self._apart(posture), axis=-1)
        return points + tilt + turn_first * slip


@dataclass(frozen=True, slots=True, eq=False)
class Square:
    """The cosine between a direction of each body (unit, at rest) keeps the value ``cosine`` (m,)."""

    first: Bodies
    second: Bodies
    direction_first: Floats
    direction_second: Floats
    cosine: Floats
    scale: float

    def values(self, posture: Posture, targets: Floats) -> Floats:  # noqa: ARG002
        a = _turned(posture, self.first, self.direction_first)
        b = _turned(posture, self.second, self.direction_second)
        return self.scale * (_dot(a, b) - self.cosine)

    def slopes(self, posture: Posture) -> Slopes:
        a = _turned(posture, self.first, self.direction_first)
        b = _turned(posture, self.second, self.direction_second)
        about = self.scale * np.cross(a, b)
        still = np.zeros_like(about)
        return _pair(still, still, about, -about, self.scale)

    def second_order(self, posture: Posture, reach: Reach, spans: Floats) -> Floats:  # noqa: ARG002
        # |Ra·Rb - a·b - linear| <= wa²/2 + wa·wb + wb²/2 for unit a, b (closed form)
        return 0.5 * self.scale * (reach.turn[:, self.first] + reach.turn[:, self.second]) ** 2


@dataclass(frozen=True, slots=True, eq=False)
class Turn:
    """The angle of the second body against the first about ``axis`` (unit, fixed in the first) equals its target."""

    first: Bodies
    second: Bodies
    axis: Floats
    mark: Floats
    """A direction square to ``axis``, the same in both bodies at rest (m, 3)."""
    scale: float

    def angles(self, posture: Posture) -> Floats:
        """Angle (N, m) rad in (-π, π]."""
        axis = _turned(posture, self.first, self.axis)
        u = _turned(posture, self.first, self.mark)
        v = _turned(posture, self.second, self.mark)
        return np.arctan2(_dot(np.cross(axis, u), v), _dot(u, v))

    def values(self, posture: Posture, targets: Floats) -> Floats:
        miss = self.angles(posture) - targets
        return self.scale * (miss - 2 * np.pi * np.round(miss / (2 * np.pi)))

    def slopes(self, posture: Posture) -> Slopes:
        about = self.scale * _turned(posture, self.first, self.axis)
        still = np.zeros_like(about)
        return _pair(still, still, -about, about, self.scale)

    def second_order(self, posture: Posture, reach: Reach, spans: Floats) -> Floats:  # noqa: ARG002
        # as Square, between the first body's mark turned by the drive (a third rotation) and the second's normal
        return 0.5 * self.scale * (reach.turn[:, self.first] + reach.turn[:, self.second] + spans) ** 2


@dataclass(frozen=True, slots=True, eq=False)
class NoRoll:
    """A body that nothing keeps from rolling takes the shortest turn from rest: no turning about ``axis``, drawn."""

    first: Bodies
    """Always the ground."""
    second: Bodies
    axis: Floats
    scale: float

    def values(self, posture: Posture, targets: Floats) -> Floats:  # noqa: ARG002
        return self.scale * _dot(sine_vector(posture.rotations[:, self.second]), self.axis)

    def slopes(self, posture: Posture) -> Slopes:
        R = posture.rotations[:, self.second]
        trace = np.trace(R, axis1=-2, axis2=-1)[..., None]
        about = 0.5 * self.scale * (trace * self.axis - np.einsum("nmji,mj->nmi", R, self.axis))
        still = np.zeros_like(about)
        return _pair(still, still, still, about, self.scale)

    def second_order(self, posture: Posture, reach: Reach, spans: Floats) -> Floats:  # noqa: ARG002
        # axis·sine_vector(exp(w)R) is half the inner product of a skew matrix (norm √2) with exp(w)R,
        # and exp(w) differs from 1 + skew(w) by at most √2·w²/2 in the same norm (closed form)
        return 0.5 * self.scale * reach.turn[:, self.second] ** 2
