"""How far anything can move against something else inside a cell: what carries the proof between poses.

Everything is seen from one body, so what both share does not count. Of the motion of body b seen from body a, first
and second derivatives are exact, and both are linear in the point; what they leave out is bounded. So over a solid the
first-order part is largest at a corner of its hull and of the cell, and the others are bounded over a ball round it.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.motion.cell_motion import CellMotion
from assembly.motion.expansion import ROUNDING
from assembly.motion.rows.base import bend, tail


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """Motion of one body seen from another, in N cells, at points of a ball fixed to the first.

    ``middle`` (N, 3) mm: the ball's middle in the world at the cells' centres. Derivatives per drive unit: of the
    middle, ``rate`` (N, d, 3) and ``bent`` (N, d, d, 3); of the turning, ``spin`` (N, d, 3); and ``warp``
    (N, d, d, 3, 3), by which ``bent`` changes over the lever from the middle. Bounds over the ball and the cell, in
    mm: ``first`` (N,) and ``second`` (N,) on the parts of those orders, ``third`` (N,) on what they leave out.
    """

    middle: Floats
    rate: Floats
    bent: Floats
    spin: Floats
    warp: Floats
    first: Floats
    second: Floats
    third: Floats


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
    )


def travel(motion: CellMotion, body: int, other: int, points: Floats, radii: Floats, centres: Floats) -> Floats:
    """How far (N,) mm the balls (``points`` (k, 3) at rest, ``radii`` (k,)) of ``body`` can move against ``other``.

    Seen from ``other``: the distance between the two bodies' surfaces anywhere in the cell differs from
    that at its centre by no more. ``centres`` (B, 3): the bodies' reference points at rest.
    """
    if body == other:
        return np.zeros(len(motion))
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
    return np.asarray(np.where(motion.certified, ROUNDING * (first + view.second + view.third), np.inf))


def travel_by_drive(motion: CellMotion, body: int, other: int, points: Floats, centres: Floats) -> Floats:
    """How much (N, d) mm each drive alone moves ``points`` (k, 3) of ``body`` against ``other``, to first order."""
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    view = seen(motion, body, other, middle, 0.0, centres)
    turns = _cross_matrices(view.spin) @ motion.posture.rotations[:, None, body]
    steps = view.rate[..., None] + turns @ (points - middle).T
    return np.asarray(np.sqrt((steps**2).sum(axis=2)).max(axis=2, initial=0.0) * motion.half)


def residual_travel(motion: CellMotion, body: int, other: int, arm: float) -> Floats:
    """How much (N,) mm of ``travel`` comes from the solver's miss at the centres, for points within ``arm`` mm."""
    shift = motion.shift_residual[:, body] + motion.shift_residual[:, other]
    return np.asarray(shift + arm * (motion.turn_residual[:, body] + motion.turn_residual[:, other]))


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
    rate = motion.shift_rate[:, body] + np.cross(turn, lever[:, None])
    bent = motion.shift_bend[:, body] + np.cross(motion.turn_bend[:, body], lever[:, None, None])
    return rate, bent + bend(turn, lever)


def _left_out(motion: CellMotion, body: int, lever: Floats, radius: float) -> Floats:
    """What first and second derivatives leave out (N,) mm within ``radius`` of ``lever`` (N, 3) from the centre."""
    more = curl(motion, body) + motion.turn_rest[:, body]
    own = motion.turn_rest[:, body] + tail(motion.turn[:, body], more)
    return np.asarray(motion.shift_rest[:, body] + own * (np.linalg.norm(lever, axis=1) + radius))


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
