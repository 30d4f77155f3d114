"""How far points can come towards a plane inside a cell: the bound that holds where parts slide past each other.

``travel`` takes the length of the whole motion, so it cannot see that a bush turning between two cheeks, or a ram in
its guide, moves along the gap and not across it. Here the motion of body b, seen from body a, is taken along one
direction ``n`` that a carries with it. A point of b that moves by ``u`` away from where a alone would have taken it
comes towards a by ``-m · u``, with ``m`` the direction ``n`` turned with a; with rotation vector ``w`` of a,

    m · u = n · u₁ + (n · u₂ + (w₁ × n) · u₁) + left out,
    |left out| <= |u₃| + |w₁| (|u₂| + |u₃|) + |m - n - w₁ × n| (|u₁| + |u₂| + |u₃|).

The first two terms are exact, and linear in the point, so over a solid they are largest at a corner of its hull.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import cross
from assembly.kinematics.cell_motion import CellMotion
from assembly.kinematics.expansion import ROUNDING
from assembly.kinematics.rows.base import dot
from assembly.kinematics.travel import Displacement, Seen, bounded, first_order, seen

AT_ONCE = 100_000
"""Points times cells worked on together; keeps the working memory near 10 MB."""


@dataclass(frozen=True, slots=True, eq=False)
class Cloud:
    """Points (k, 3) mm at rest, and one ball that holds them: ``middle`` (3,) and ``radius``."""

    points: Floats
    middle: Floats
    radius: float


def cloud_of(points: Floats) -> Cloud:
    """A cloud of ``points`` (k, 3) with the ball round the middle of their box."""
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    return Cloud(points, middle, float(np.linalg.norm(points - middle, axis=1).max(initial=0.0)))


def least_along(motion: CellMotion, body: int, other: int, cloud: Cloud, normals: Floats, centres: Floats) -> Floats:
    """Smallest coordinate (N,) mm of ``cloud`` of ``body``, anywhere in each cell, along ``normals``.

    ``normals`` (N, 3): unit directions in the world at the cells' centres, carried along by ``other``; the coordinate
    counts from the world's origin at the centre, carried along likewise. -inf where the motion is not certified.
    """
    return lowest(motion, body, cloud, normals, centres) - fall(motion, body, other, cloud, normals, centres).whole


def fall(motion: CellMotion, body: int, other: int, cloud: Cloud, normals: Floats, centres: Floats) -> Displacement:
    """How far (N,) mm the smallest coordinate of ``cloud`` can fall below what it is at each cell's centre.

    Arguments as those of ``least_along``; infinite where the motion is not certified.
    """
    if body == other:
        return Displacement(np.zeros(len(motion)), np.zeros(len(motion)))
    chunk = max(1, AT_ONCE // max(1, len(cloud.points)))
    parts = [
        _fall(motion.take(rows), body, other, cloud, normals[rows], centres)
        for rows in (np.arange(k, min(k + chunk, len(motion))) for k in range(0, len(motion), chunk))
    ]
    own, residual = ([getattr(part, name) for part in parts] for name in ("motion", "residual"))
    return Displacement(np.concatenate([*own, np.zeros(0)]), np.concatenate([*residual, np.zeros(0)]))


def lowest(motion: CellMotion, body: int, cloud: Cloud, normals: Floats, centres: Floats) -> Floats:
    """Smallest coordinate (N,) mm of ``cloud`` of ``body`` at each cell's centre, along ``normals`` (N, 3)."""
    held = _as_drawn(motion, body, normals)
    start = dot(motion.posture.centres[:, body], normals) - held @ centres[body]
    return np.asarray(start + (held @ cloud.points.T).min(axis=1, initial=np.inf))


def shifts_along(
    motion: CellMotion, body: int, other: int, cloud: Cloud, normals: Floats, centres: Floats
) -> tuple[Floats, Floats]:
    """Coordinates (N, k) mm of the points of ``cloud`` at the cells' centres, and how far each may leave its own.

    Along ``normals`` (N, 3) as for ``least_along``: anywhere in its cell a point of ``body`` lies within that much of
    the coordinate that it has at the centre. inf where the motion is not certified.
    """
    away, held = cloud.points - cloud.middle, _as_drawn(motion, body, normals)
    view = seen(motion, body, other, cloud.middle, cloud.radius, centres)
    along = dot(view.middle, normals)[:, None] + held @ away.T
    if body == other:
        return along, np.zeros_like(along)
    left = _left_out(motion, other, view, first_order(view, cloud.radius, motion.half))
    shifts = ROUNDING * (_changes(motion, body, other, view, normals, away) + left.whole[:, None])
    return along, np.asarray(np.where(motion.certified[:, None], shifts, np.inf))


def _as_drawn(motion: CellMotion, body: int, normals: Floats) -> Floats:
    """Directions (N, 3) in the world at the cells' centres as they were in the body when it was drawn."""
    return np.asarray((normals[:, None] @ motion.posture.rotations[:, body])[:, 0])


def _fall(motion: CellMotion, body: int, other: int, cloud: Cloud, normals: Floats, centres: Floats) -> Displacement:
    """``fall`` for few cells."""
    view = seen(motion, body, other, cloud.middle, cloud.radius, centres)
    first, away = first_order(view, cloud.radius, motion.half), cloud.points - cloud.middle
    along = dot(view.middle, normals)[:, None] + _as_drawn(motion, body, normals) @ away.T
    # Points that stand farther back than any can fall cannot come to lie in front.
    farthest = along.min(axis=1) + 1.001 * (first + view.second + motion.turn[:, other] * first)
    front = (along <= farthest[:, None]).any(axis=0)
    along, away = along[:, front], away[front]
    gone = _changes(motion, body, other, view, normals, away)
    left = _left_out(motion, other, view, first)
    own = along.min(axis=1) - (along - ROUNDING * gone).min(axis=1) + ROUNDING * left.motion
    return bounded(motion, own, ROUNDING * left.residual)


def _changes(motion: CellMotion, body: int, other: int, view: Seen, normals: Floats, away: Floats) -> Floats:
    """Bound (N, k) mm on the first- and second-order parts of ``m · u`` at points ``away`` (k, 3) from the middle."""
    values, slopes, weights = _terms(motion, other, view, normals)
    terms = (slopes @ motion.posture.rotations[:, body]) @ away.T
    terms += values[..., None]
    return np.asarray((weights[:, None] @ np.abs(terms, out=terms))[:, 0])


def _left_out(motion: CellMotion, other: int, view: Seen, first: Floats) -> Displacement:
    """Bound (N,) mm on what the first two orders of ``m · u`` leave out, over the ball of ``view``.

    ``first`` (N,) mm bounds the first-order part of ``u`` there.
    """
    turn, more = motion.turn[:, other], motion.curl[:, other] + motion.turn_rest[:, other]
    tipped, third = more + 0.5 * (turn + more) ** 2, view.third - view.residual
    own = third + turn * (view.second + third) + tipped * (first + view.second + third)
    return Displacement(own, (1 + turn + tipped) * view.residual)


def _terms(motion: CellMotion, other: int, view: Seen, normals: Floats) -> tuple[Floats, Floats, Floats]:
    """First- and second-order terms of ``m · u``, one for each drive and for each two drives, t in all.

    Values (N, t) at the cloud's middle, gradients (N, t, 3) over the lever from there, and weights (N, t).
    """
    half, n = motion.half, normals[:, None]
    held = cross(motion.turn_rate[:, other], n)
    k, j = np.triu_indices(half.shape[1])
    bent = dot(view.bent[:, k, j], n) + dot(held[:, k], view.rate[:, j]) + dot(held[:, j], view.rate[:, k])
    warp = (np.swapaxes(view.warp[:, k, j], -1, -2) @ normals[:, None, :, None])[..., 0]
    warp = warp + cross(held[:, k], view.spin[:, j]) + cross(held[:, j], view.spin[:, k])
    values = np.concatenate([dot(view.rate, n), bent], axis=1)
    slopes = np.concatenate([cross(n, view.spin), warp], axis=1)
    return values, slopes, np.concatenate([half, np.where(k == j, 0.5, 1.0) * half[:, k] * half[:, j]], axis=1)
