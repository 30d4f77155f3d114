"""How far anything can move against something else inside a cell: what carries the proof between poses.

Everything is seen from one body, so what both share does not count. Of the motion of body b seen from body a, first
and second derivatives are exact, and both are linear in the point; what they leave out is bounded. So over a solid the
first-order part is largest at a corner of its hull and of the cell, and the others are bounded over a ball round it.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import cross
from assembly.kinematics.cell_bounds import CellMotion
from assembly.kinematics.expansion import ROUNDING
from assembly.kinematics.rows.base import bend, tail


@dataclass(frozen=True, slots=True, eq=False)
class Displacement:
    """Bound (N,) mm on how far points move: by the motion itself, and by what the solver missed at the centres."""

    motion: Floats
    residual: Floats

    @property
    def whole(self) -> Floats:
        """Both together."""
        return self.motion + self.residual

    def take(self, index: NDArray[np.intp]) -> Displacement:
        """Those at ``index``."""
        return Displacement(self.motion[index], self.residual[index])

    def plus(self, other: Displacement) -> Displacement:
        """One after the other."""
        return Displacement(self.motion + other.motion, self.residual + other.residual)

    def least(self, other: Displacement) -> Displacement:
        """The smaller of two bounds, each with its own residual."""
        smaller = self.whole <= other.whole
        return Displacement(
            np.where(smaller, self.motion, other.motion), np.where(smaller, self.residual, other.residual)
        )


STILL = Displacement(np.zeros(1), np.zeros(1))
"""No displacement, for one cell or as many as one likes."""


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """Motion of one body seen from another, in N cells, at points of a ball fixed to the first.

    ``middle`` (N, 3) mm: the ball's middle in the world at the cells' centres. Derivatives per drive unit: of the
    middle, ``rate`` (N, d, 3) and ``bent`` (N, d, d, 3); of the turning, ``spin`` (N, d, 3); and ``warp``
    (N, d, d, 3, 3), by which ``bent`` changes over the lever from the middle. Bounds over the ball and the cell, in
    mm: ``first`` (N,) and ``second`` (N,) on the parts of those orders, ``third`` (N,) on what they leave out, of which
    ``residual`` (N,) comes from the solver's miss at the centres.
    """

    middle: Floats
    rate: Floats
    bent: Floats
    spin: Floats
    warp: Floats
    first: Floats
    second: Floats
    third: Floats
    residual: Floats


def seen(motion: CellMotion, body: int, other: int, middle: Floats, radius: float, centres: Floats) -> Seen:
    """Motion of ``body`` seen from ``other`` at points within ``radius`` mm of ``middle`` (3,), at rest.

    ``centres`` (B, 3): the bodies' reference points at rest.
    """
    lever = np.einsum("nij,j->ni", motion.posture.rotations[:, body], middle - centres[body])
    place = motion.posture.centres[:, body] + lever
    arms = ((body, lever), (other, place - motion.posture.centres[:, other]))
    (rate, bent), (rate_other, bent_other) = (_derivatives(motion, index, arm) for index, arm in arms)
    rate, bent = rate - rate_other, bent - bent_other
    spin = motion.turn_rate[:, body] - motion.turn_rate[:, other]
    twist = motion.turn_bend[:, body] - motion.turn_bend[:, other]
    warp = _cross_matrices(twist) + _bends(motion.turn_rate[:, body]) - _bends(motion.turn_rate[:, other])
    half = motion.half
    return Seen(
        middle=place,
        rate=rate,
        bent=bent,
        spin=spin,
        warp=warp,
        first=corner_norm(rate, half) + radius * corner_norm(spin, half),
        second=_over(np.linalg.norm(bent, axis=-1) + radius * _norms(warp), half),
        third=sum((_left_out(motion, index, arm, radius) for index, arm in arms), start=np.zeros(len(motion))),
        residual=sum((_missed(motion, index, arm, radius) for index, arm in arms), start=np.zeros(len(motion))),
    )


def travel(motion: CellMotion, body: int, other: int, points: Floats, radii: Floats, centres: Floats) -> Floats:
    """How far (N,) mm the balls (``points`` (k, 3) at rest, ``radii`` (k,)) of ``body`` can move against ``other``.

    Seen from ``other``: the distance between the two bodies' surfaces anywhere in the cell differs from
    that at its centre by no more. ``centres`` (B, 3): the bodies' reference points at rest.
    """
    return displacement(motion, body, other, points, radii, centres).whole


def displacement(
    motion: CellMotion, body: int, other: int, points: Floats, radii: Floats, centres: Floats
) -> Displacement:
    """``travel``, with the part that comes from the solver's miss told apart; infinite where nothing is certified."""
    if body == other:
        return Displacement(np.zeros(len(motion)), np.zeros(len(motion)))
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    away = points - middle
    radius = float((np.linalg.norm(away, axis=1) + radii).max(initial=0.0))
    view = seen(motion, body, other, middle, radius, centres)
    half, turned = motion.half[..., None], motion.posture.rotations[:, body]
    first = np.zeros(len(motion))
    for corner in _corners(motion.half.shape[1]):
        turn = np.einsum("ndi,d->ni", view.spin * half, corner)
        steps = np.einsum("ndi,d->ni", view.rate * half, corner)[..., None] + _cross_matrices(turn) @ turned @ away.T
        longest = np.sqrt((steps**2).sum(axis=1)) + np.linalg.norm(turn, axis=1)[:, None] * radii
        first = np.maximum(first, longest.max(axis=1, initial=0.0))
    own = first + view.second + (view.third - view.residual)
    return bounded(motion, ROUNDING * own, ROUNDING * view.residual)


def bounded(motion: CellMotion, own: Floats, residual: Floats) -> Displacement:
    """A displacement ``own`` (N,) and ``residual`` (N,) mm where the motion is certified, else infinite."""
    return Displacement(np.where(motion.certified, own, np.inf), np.where(motion.certified, residual, 0.0))


def travel_by_drive(motion: CellMotion, body: int, other: int, points: Floats, centres: Floats) -> Floats:
    """How much (N, d) mm each drive alone moves ``points`` (k, 3) of ``body`` against ``other``, to first order."""
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    view = seen(motion, body, other, middle, 0.0, centres)
    turns = _cross_matrices(view.spin) @ motion.posture.rotations[:, None, body]
    steps = view.rate[..., None] + turns @ (points - middle).T
    return np.asarray(np.sqrt((steps**2).sum(axis=2)).max(axis=2, initial=0.0) * motion.half)


def curl(motion: CellMotion, body: int) -> Floats:
    """Bound (N,) rad on the second-order part of a body's turning."""
    return _over(np.linalg.norm(motion.turn_bend[:, body], axis=-1), motion.half)


def corner_norm(rate: Floats, half: Floats) -> Floats:
    """Largest length (N,) of ``rate`` (N, d, 3) times a step within ``half`` (N, d): it is reached at a corner."""
    steps = rate * half[..., None]
    lengths = [np.linalg.norm(np.einsum("ndi,d->ni", steps, corner), axis=-1) for corner in _corners(half.shape[1])]
    return np.asarray(np.max(lengths, axis=0))


def _corners(drives: int) -> list[Floats]:
    """Signs (d,) of one of each two opposite corners of a cell."""
    return [np.array((1.0, *signs))[:drives] for signs in product((1.0, -1.0), repeat=max(drives - 1, 0))]


def _over(second: Floats, half: Floats) -> Floats:
    """Bound (N,) on a second-order part from bounds (N, d, d) on its derivatives."""
    return np.asarray(0.5 * np.einsum("nij,ni,nj->n", second, half, half))


def _derivatives(motion: CellMotion, body: int, lever: Floats) -> tuple[Floats, Floats]:
    """First (N, d, 3) and second (N, d, d, 3) derivatives of the point at ``lever`` (N, 3) from the body's centre."""
    turn = motion.turn_rate[:, body]
    rate = motion.shift_rate[:, body] + cross(turn, lever[:, None])
    bent = motion.shift_bend[:, body] + cross(motion.turn_bend[:, body], lever[:, None, None])
    return rate, bent + bend(turn, lever)


def _left_out(motion: CellMotion, body: int, lever: Floats, radius: float) -> Floats:
    """What first and second derivatives leave out (N,) mm within ``radius`` of ``lever`` (N, 3) from the centre."""
    more = curl(motion, body) + motion.turn_rest[:, body]
    own = motion.turn_rest[:, body] + tail(motion.turn[:, body], more)
    return np.asarray(motion.shift_rest[:, body] + own * (np.linalg.norm(lever, axis=1) + radius))


def _missed(motion: CellMotion, body: int, lever: Floats, radius: float) -> Floats:
    """How far (N,) mm the solver's miss at the centre can move points within ``radius`` of ``lever`` (N, 3)."""
    turned = motion.turn_residual[:, body] * (np.linalg.norm(lever, axis=1) + radius)
    return np.asarray(motion.shift_residual[:, body] + turned)


def _cross_matrices(vectors: Floats) -> Floats:
    """Matrices (..., 3, 3) that take the cross product of ``vectors`` (..., 3) with another."""
    matrices = np.zeros((*vectors.shape, 3))
    for i, j, k in ((0, 1, 2), (1, 2, 0), (2, 0, 1)):
        matrices[..., j, i], matrices[..., i, j] = vectors[..., k], -vectors[..., k]
    return matrices


def _bends(turn: Floats) -> Floats:
    """``rows.base.bend`` as matrices (N, d, d, 3, 3) over the vector that is turned at rates ``turn`` (N, d, 3)."""
    outer = turn[:, :, None, :, None] * turn[:, None, :, None, :]
    sizes = np.einsum("nki,nli->nkl", turn, turn)
    return np.asarray(0.5 * (outer + np.swapaxes(outer, -1, -2)) - sizes[..., None, None] * np.eye(3))


def _norms(matrices: Floats) -> Floats:
    """Bounds (...) on the spectral norms of ``matrices`` (..., 3, 3): by columns' and rows' sums."""
    size = np.abs(matrices)
    return np.asarray(np.sqrt(size.sum(axis=-2).max(axis=-1) * size.sum(axis=-1).max(axis=-1)))
