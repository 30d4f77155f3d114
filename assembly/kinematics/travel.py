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
from assembly.geometry.rotations import cross, inner, lengths
from assembly.kinematics.cell_bounds import CellMotion
from assembly.kinematics.expansion import ROUNDING
from assembly.kinematics.rows.base import bend

MOST_CORNERED = 8
"""Drives of a cell of which every corner is looked at; what further ones do, each alone, is added up."""
AT_ONCE = 100_000
"""Balls times corners of cells worked on together; keeps the working memory near 10 MB."""


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
    mm: ``second`` (N,) on the part of that order, ``third`` (N,) on what both leave out, of which ``residual`` (N,)
    comes from the solver's miss at the centres.
    """

    middle: Floats
    rate: Floats
    bent: Floats
    spin: Floats
    warp: Floats
    second: Floats
    third: Floats
    residual: Floats


def seen(motion: CellMotion, body: int, other: int, middle: Floats, radius: float, centres: Floats) -> Seen:
    """Motion of ``body`` seen from ``other`` at points within ``radius`` mm of ``middle`` (3,), at rest.

    ``centres`` (B, 3): the bodies' reference points at rest.
    """
    both = [body, other]
    lever = motion.posture.rotations[:, body] @ (middle - centres[body])
    place = motion.posture.centres[:, body] + lever
    arms = place[:, None] - motion.posture.centres[:, both]
    turn, twist = motion.turn_rate[:, both], motion.turn_bend[:, both]
    rate = motion.shift_rate[:, both] + cross(turn, arms[:, :, None])
    bent = motion.shift_bend[:, both] + cross(twist, arms[:, :, None, None]) + bend(turn, arms)
    bends = _bends(turn)
    warp = _cross_matrices(twist[:, 0] - twist[:, 1]) + bends[:, 0] - bends[:, 1]
    far, bent = lengths(arms) + radius, bent[:, 0] - bent[:, 1]
    return Seen(
        middle=place,
        rate=rate[:, 0] - rate[:, 1],
        bent=bent,
        spin=turn[:, 0] - turn[:, 1],
        warp=warp,
        second=_over(lengths(bent) + radius * _norms(warp), motion.half),
        third=(motion.shift_rest[:, both] + motion.tilt[:, both] * far).sum(axis=1),
        residual=(motion.shift_residual[:, both] + motion.turn_residual[:, both] * far).sum(axis=1),
    )


def first_order(view: Seen, radius: float, half: Floats) -> Floats:
    """Bound (N,) mm on the first-order part over the ball of ``radius`` mm that is seen, in cells of ``half``."""
    return corner_norm(view.rate, half) + radius * corner_norm(view.spin, half)


def travel(motion: CellMotion, body: int, other: int, points: Floats, radii: Floats, centres: Floats) -> Floats:
    """How far (N,) mm the balls (``points`` (k, 3) at rest, ``radii`` (k,)) of ``body`` can move against ``other``.

    Seen from ``other``: the distance between the two bodies' surfaces anywhere in the cell differs from
    that at its centre by no more. ``centres`` (B, 3): the bodies' reference points at rest.
    """
    return displacement(motion, body, other, points, radii, centres).whole


def displacement(
    motion: CellMotion, body: int, other: int, points: Floats, radii: Floats, centres: Floats
) -> Displacement:
    """``travel``, the part that comes from the solver's miss apart; infinite where nothing is certified."""
    if body == other:
        return Displacement(np.zeros(len(motion)), np.zeros(len(motion)))
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    away = points - middle
    radius = float((np.linalg.norm(away, axis=1) + radii).max(initial=0.0))
    view = seen(motion, body, other, middle, radius, centres)
    corners = _corners(min(int(motion.half.any(axis=0).sum()), MOST_CORNERED))
    chunk = max(1, AT_ONCE // (len(points) * len(corners)))
    parts = [
        _first(motion, body, view, (away, radii), np.arange(start, min(start + chunk, len(motion))))
        for start in range(0, len(motion), chunk)
    ]
    first = np.concatenate([*parts, np.zeros(0)])
    own = first + view.second + (view.third - view.residual)
    return bounded(motion, ROUNDING * own, ROUNDING * view.residual)


def _first(motion: CellMotion, body: int, view: Seen, balls: tuple[Floats, Floats], rows: NDArray[np.intp]) -> Floats:
    """The farthest (n,) mm that ``balls`` (k, 3), (k,) from the middle of ``view`` move to first order."""
    (away, radii), every = balls, np.flatnonzero(motion.half.any(axis=0))
    cut, others = every[:MOST_CORNERED], every[MOST_CORNERED:]
    half, corners = motion.half[rows][:, cut, None], _corners(len(cut))
    turns = corners @ (view.spin[rows][:, cut] * half)
    levers = motion.posture.rotations[rows, body] @ away.T
    steps = (corners @ (view.rate[rows][:, cut] * half))[..., None] + _cross_matrices(turns) @ levers[:, None]
    longest = lengths(steps, axis=2)
    if radii.any():
        longest += lengths(turns)[..., None] * radii
    first = np.asarray(longest.max(axis=(1, 2), initial=0.0))
    for one in others:
        turned, wide = view.spin[rows, one], motion.half[rows, one]
        step = lengths(view.rate[rows, one][..., None] + _cross_matrices(turned) @ levers, axis=1)
        first = first + (step + lengths(turned)[:, None] * radii).max(axis=1) * wide
    return first


def bounded(motion: CellMotion, own: Floats, residual: Floats) -> Displacement:
    """A displacement ``own`` (N,) and ``residual`` (N,) mm where the motion is certified, else infinite."""
    return Displacement(np.where(motion.certified, own, np.inf), np.where(motion.certified, residual, 0.0))


def travel_by_drive(motion: CellMotion, body: int, other: int, points: Floats, centres: Floats) -> Floats:
    """How much (N, d) mm each drive alone moves ``points`` (k, 3) of ``body`` against ``other``, to first order."""
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    view = seen(motion, body, other, middle, 0.0, centres)
    turns = _cross_matrices(view.spin) @ motion.posture.rotations[:, None, body]
    steps = view.rate[..., None] + turns @ (points - middle).T
    return np.asarray(lengths(steps, axis=2).max(axis=2, initial=0.0) * motion.half)


def curl(motion: CellMotion, body: int) -> Floats:
    """Bound (N,) rad on the second-order part of a body's turning."""
    return _over(lengths(motion.turn_bend[:, body]), motion.half)


def corner_norm(rate: Floats, half: Floats) -> Floats:
    """Largest length (N,) of ``rate`` (N, d, 3) times a step within ``half`` (N, d): it is reached at a corner.

    Of more than ``MOST_CORNERED`` drives a bound on it.
    """
    every = np.flatnonzero(half.any(axis=0))
    cut, others = every[:MOST_CORNERED], every[MOST_CORNERED:]
    steps = _corners(len(cut)) @ (rate[:, cut] * half[:, cut, None])
    largest = lengths(steps).max(axis=1)
    if len(others):
        largest = largest + (lengths(rate[:, others]) * half[:, others]).sum(axis=1)
    return np.asarray(largest)


def _corners(drives: int) -> Floats:
    """Signs (c, d) of one of each two opposite corners of a cell over the ``drives`` along which it has a width."""
    return np.array([(1.0, *signs)[:drives] for signs in product((1.0, -1.0), repeat=max(drives - 1, 0))])


def _over(second: Floats, half: Floats) -> Floats:
    """Bound (N,) on a second-order part from bounds (N, d, d) on its derivatives."""
    pairs = (half[:, :, None] * half[:, None]).reshape(len(half), half.shape[1] ** 2)
    return np.asarray(0.5 * np.einsum("nk,nk->n", second.reshape(pairs.shape), pairs))


def _cross_matrices(vectors: Floats) -> Floats:
    """Matrices (..., 3, 3) that take the cross product of ``vectors`` (..., 3) with another."""
    matrices = np.zeros((*vectors.shape, 3))
    for i, j, k in ((0, 1, 2), (1, 2, 0), (2, 0, 1)):
        matrices[..., j, i], matrices[..., i, j] = vectors[..., k], -vectors[..., k]
    return matrices


def _bends(turn: Floats) -> Floats:
    """``rows.base.bend`` as matrices (..., d, d, 3, 3) over the vector that is turned at rates ``turn`` (..., d, 3)."""
    outer = turn[..., :, None, :, None] * turn[..., None, :, None, :]
    sizes = inner(turn[..., :, None, :], turn[..., None, :, :])
    return np.asarray(0.5 * (outer + np.swapaxes(outer, -1, -2)) - sizes[..., None, None] * np.eye(3))


def _norms(matrices: Floats) -> Floats:
    """Bounds (...) on the spectral norms of ``matrices`` (..., 3, 3): by columns' and rows' sums."""
    size = np.abs(matrices)
    columns = size[..., 0, :] + size[..., 1, :] + size[..., 2, :]
    rows = size[..., 0] + size[..., 1] + size[..., 2]
    return np.asarray(np.sqrt(_largest(columns) * _largest(rows)))


def _largest(sizes: Floats) -> Floats:
    """The largest (...) of three numbers (..., 3)."""
    return np.asarray(np.maximum(np.maximum(sizes[..., 0], sizes[..., 1]), sizes[..., 2]))
