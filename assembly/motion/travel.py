"""How far anything can move inside a cell of drive settings: the bound that carries the proof between poses.

A cell is a box of settings, centre ``q`` and half-widths ``h``. Write every body's motion away from its
place at ``q`` as unknowns ``x`` (shift of the centre, rotation vector). The joints hold where

    J x + R(x, δ) = D δ,    |δ| <= h,

with J the derivative at the centre, D what the drives ask, and R what the linear part leaves out. Take

    x = V δ + ½ δᵀH δ + e,    V = J⁻¹ D,    H = -J⁻¹ (curvature of the rows along V),

so that V and H are the exact first and second derivatives of the motion. What is left of R then is of third
order; each family of rows bounds it in closed form, and

    |e| <= |J⁻¹| (third order(|V| h, ½ |H| hh + |e|) + miss at the centre).

Existence and branch. Let the box |e| <= r have an image, under the right side, of at most κ r with κ < 1. Then no
solution lies on the border of the box, at any setting of the cell; at the centre the only one inside is ours (with
no linear part every term is of second degree in e, so a second solution would have to be larger than itself); and
the map has a fixed point at every setting, joined to ours at the centre by solutions inside the box (Brouwer;
Leray and Schauder). So a machine that is moved from the centre to any setting of the cell, by any way inside the
cell, stays in the box: it can be assembled everywhere and cannot leave for another assembly. The box is then
narrowed by applying the map again: each image of such a box still holds every solution in it.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats
from assembly.motion.expansion import (
    ROUNDING,
    Expansion,
    RowGroups,
    applied,
    by_body,
    expand,
    holds_together,
    lengths_of,
    reach_of,
)
from assembly.motion.mechanism import Mechanism, Solved
from assembly.motion.rows import Posture, Reach, joined_postures
from assembly.motion.rows.base import bend, tail

INSIDE = 0.9
"""κ above."""
FIRST_BOX = 3.0
"""The first box is this many times what the map makes of the box of no size."""
NARROWINGS = 3
WIDEST_TURN = 0.7
"""rad: a cell in which a body may turn farther is split; keeps every angle far from where cosines repeat."""


@dataclass(frozen=True, slots=True, eq=False)
class CellMotion:
    """Bounds on the motion of every body over N cells of settings.

    ``half`` (N, d) half-widths in drive units. Of the motion away from the cell's centre: ``shift_rate`` and
    ``turn_rate`` (N, B, d, 3) first derivatives in mm and rad per drive unit, ``shift_bend`` and ``turn_bend``
    (N, B, d, d, 3) second derivatives, and ``shift_rest`` (N, B) mm and ``turn_rest`` (N, B) rad, bounds on what those
    leave out, the solver's miss included, whose own part is ``shift_residual`` and ``turn_residual``. ``turn``
    (N, B) rad bounds the first-order turning. ``certified`` (N,): the branch is proven to exist and to be ours in
    the whole cell; where False, nothing is bounded.
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
    certified: NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.settings)

    def take(self, index: NDArray[np.intp]) -> CellMotion:
        """The bounds of the cells at ``index``."""
        arrays = {name: value[index] for name, value in self._arrays().items()}
        return CellMotion(posture=self.posture.take(index), **arrays)

    def with_more(self, other: CellMotion) -> CellMotion:
        """The bounds of these cells and of those of ``other`` after them."""
        theirs = other._arrays()
        arrays = {name: np.concatenate([value, theirs[name]]) for name, value in self._arrays().items()}
        return CellMotion(posture=joined_postures(self.posture, other.posture), **arrays)

    def _arrays(self) -> dict[str, Any]:
        return {name: getattr(self, name) for name in CellMotion.__slots__ if name != "posture"}


def bound_motion(mechanism: Mechanism, solved: Solved, half: Floats) -> CellMotion:
    """Bounds over the cells with centres ``solved`` and half-widths ``half`` (N, d) in drive units."""
    groups = RowGroups(mechanism)
    with np.errstate(invalid="ignore", over="ignore"):
        expansion = expand(mechanism, solved, groups)
        linear = reach_of(lengths_of(np.abs(expansion.rates) @ half[..., None])[..., 0], expansion.scale)
        curved = 0.5 * np.einsum("nkij,ni,nj->nk", lengths_of(expansion.bends), half, half)

        def image(rest: Floats) -> Floats:
            more = reach_of(curved + rest, expansion.scale)
            left_out = mechanism.equations.third_order(solved.posture, linear, more, half)
            return applied(expansion, groups.longest(left_out[:, mechanism.system.chosen]) + expansion.missed)

        rest = FIRST_BOX * image(np.zeros(curved.shape))
        inside = image(rest)
        reach = linear + reach_of(curved + rest, expansion.scale)
        certified = solved.reached & (inside <= INSIDE * rest).all(axis=1) & (reach.turn <= WIDEST_TURN).all(axis=1)
        certified &= holds_together(expansion, half)
        for _ in range(NARROWINGS):
            rest = np.minimum(rest, inside)
            inside = image(rest)
    return _cell_motion(solved, half, expansion, np.minimum(rest, inside), linear, certified)


def travel(motion: CellMotion, body: int, other: int, points: Floats, radii: Floats, centres: Floats) -> Floats:
    """How far (N,) mm the balls (``points`` (k, 3) at rest, ``radii`` (k,)) of ``body`` can move against ``other``.

    Seen from ``other``: the distance between the two bodies' surfaces anywhere in the cell differs from
    that at its centre by no more. ``centres`` (B, 3): the bodies' reference points at rest. The exact first and
    second derivatives of the difference of both motions are used, so what both share does not count.
    """
    if body == other:
        return np.zeros(len(motion))
    lever, lever_other = _levers(motion, body, other, points, centres)
    rate, bent = (
        mine - theirs
        for mine, theirs in zip(
            _derivatives(motion, body, lever), _derivatives(motion, other, lever_other), strict=True
        )
    )
    half = motion.half
    linear = _corner_norm(rate, half[:, None])
    curved = 0.5 * np.einsum("npij,ni,nj->np", np.linalg.norm(bent, axis=-1), half, half)
    spin = _corner_norm(motion.turn_rate[:, body] - motion.turn_rate[:, other], half)[:, None] * radii
    rest = sum(_left_out(motion, index, arm, radii) for index, arm in ((body, lever), (other, lever_other)))
    return np.asarray(np.where(motion.certified, ROUNDING * (linear + curved + spin + rest).max(axis=1), np.inf))


def travel_by_drive(motion: CellMotion, body: int, other: int, points: Floats, centres: Floats) -> Floats:
    """How much (N, d) mm each drive alone moves ``points`` (k, 3) of ``body`` against ``other``, to first order."""
    lever, lever_other = _levers(motion, body, other, points, centres)
    rate = _rates(motion, body, lever) - _rates(motion, other, lever_other)
    return np.asarray(np.linalg.norm(rate, axis=-1).max(axis=1, initial=0.0) * motion.half)


def residual_travel(motion: CellMotion, body: int, other: int, arm: float) -> Floats:
    """How much (N,) mm of ``travel`` comes from the solver's miss at the centres, for points within ``arm`` mm."""
    shift = motion.shift_residual[:, body] + motion.shift_residual[:, other]
    return np.asarray(shift + arm * (motion.turn_residual[:, body] + motion.turn_residual[:, other]))


def _levers(motion: CellMotion, body: int, other: int, points: Floats, centres: Floats) -> tuple[Floats, Floats]:
    """Points (k, 3) of ``body``, at rest, as they stand (N, k, 3), seen from both bodies' centres."""
    lever = np.einsum("nij,kj->nki", motion.posture.rotations[:, body], points - centres[body])
    return lever, motion.posture.centres[:, body, None] + lever - motion.posture.centres[:, other, None]


def _rates(motion: CellMotion, body: int, lever: Floats) -> Floats:
    """First derivatives (N, k, d, 3) of points at ``lever`` (N, k, 3) from the body's centre."""
    turning = np.cross(motion.turn_rate[:, body, None], lever[:, :, None])
    return np.asarray(motion.shift_rate[:, body, None] + turning)


def _derivatives(motion: CellMotion, body: int, lever: Floats) -> tuple[Floats, Floats]:
    """First (N, k, d, 3) and second (N, k, d, d, 3) derivatives of points at ``lever`` (N, k, 3) from the centre."""
    turn = motion.turn_rate[:, body, None]
    rate = _rates(motion, body, lever)
    bent = motion.shift_bend[:, body, None] + np.cross(motion.turn_bend[:, body, None], lever[:, :, None, None])
    return rate, bent + bend(np.broadcast_to(turn, (*lever.shape[:2], *turn.shape[2:])), lever)


def _left_out(motion: CellMotion, body: int, lever: Floats, radii: Floats) -> Floats:
    """What the derivatives leave out (N, k) mm at points of a ball, and what its size adds to their second part."""
    length = np.linalg.norm(lever, axis=-1) + radii
    curl = 0.5 * np.einsum("nij,ni,nj->n", np.linalg.norm(motion.turn_bend[:, body], axis=-1), motion.half, motion.half)
    turn, more = motion.turn[:, body], curl + motion.turn_rest[:, body]
    own = motion.turn_rest[:, body] + tail(turn, more)
    ball = curl + 0.5 * turn**2
    return np.asarray(motion.shift_rest[:, body, None] + own[:, None] * length + ball[:, None] * radii)


def _corner_norm(rate: Floats, half: Floats) -> Floats:
    """Largest length (...) of ``rate`` (..., d, 3) times a step within ``half`` (..., d): it is reached at a corner."""
    steps = rate * half[..., None]
    longest = np.zeros(steps.shape[:-2])
    for signs in product((1.0, -1.0), repeat=max(rate.shape[-2] - 1, 0)):
        corner = np.array((1.0, *signs))[: rate.shape[-2]]
        longest = np.maximum(longest, np.linalg.norm(np.einsum("...di,d->...i", steps, corner), axis=-1))
    return longest


def _cell_motion(
    solved: Solved, half: Floats, expansion: Expansion, rest: Floats, linear: Reach, certified: NDArray[np.bool_]
) -> CellMotion:
    scale = expansion.scale
    shift_rate, turn_rate = by_body(expansion.rates, scale)
    shift_bend, turn_bend = by_body(expansion.bends, scale)
    left, missed = reach_of(rest, scale), reach_of(applied(expansion, expansion.missed), scale)
    return CellMotion(
        settings=solved.settings,
        half=half,
        posture=solved.posture,
        shift_rate=shift_rate,
        turn_rate=turn_rate,
        shift_bend=shift_bend,
        turn_bend=turn_bend,
        shift_rest=left.shift,
        turn_rest=left.turn,
        shift_residual=missed.shift,
        turn_residual=missed.turn,
        turn=linear.turn,
        certified=certified,
    )
