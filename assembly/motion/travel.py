"""How far anything can move inside a cell of drive settings: the bound that carries the proof between poses.

A cell is a box of settings, centre ``q`` and half-widths ``h``. Write every body's motion away from its
place at ``q`` as unknowns ``x`` (shift of the centre, rotation vector). The joints hold where

    J x + R(x, δ) = D δ,    |δ| <= h,

with J the derivative at the centre, D what the drives ask, and R what the linear part leaves out, which
each family of rows bounds in closed form: R(x) <= β(reach of x), a form of second order. So a solution is

    x = V δ + e,    V = J⁻¹ D,    |e| <= |J⁻¹| (β(|V| h + |e|) + residual).

Existence and branch. Take a box |e| <= r with |J⁻¹| (β(|V| h + r) + residual) <= κ r, κ = 0.3. The map
e → J⁻¹(...) takes the box into its own inside, so no solution lies on its border; its derivative over the
box is at most 3/2 of twice the bilinear form of β (closed form: the derivative of exp(w)r - r - w×r is at
most 3/2 |w||r|), so the map shrinks distances by 3κ < 1. There is exactly one solution at every setting of
the cell, it depends continuously on the setting and it is ours at the centre (Krawczyk 1969; Banach). The
box is then narrowed by applying the map again: every iterate from such an r still holds the solution.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats
from assembly.motion.equations import Posture, Reach, joined_postures
from assembly.motion.solver import Mechanism, Solved
from assembly.motion.system import System

SHRINK = 0.3
"""κ above."""
FIRST_BOX = 10.0
"""The first box is this many times the second-order bound of the linear part alone."""
NARROWINGS = 4
WIDEST_TURN = 0.5
"""rad: a cell in which a body may turn farther is split; keeps every angle far from where cosines repeat."""
ROUNDING = 1 + 1e-9
"""Bounds are widened by this factor against floating-point error in J⁻¹ and the sums."""


@dataclass(frozen=True, slots=True, eq=False)
class CellMotion:
    """Bounds on the motion of every body over N cells of settings.

    ``half`` (N, d) half-widths in drive units. For the motion away from the cell's centre: velocities
    ``shift_rate`` (N, B, 3, d) mm and ``turn_rate`` (N, B, 3, d) rad, per drive unit, and the bounds
    ``shift_rest`` (N, B) mm and ``turn_rest`` (N, B) rad on what they leave out, the solver's miss included, whose own
    part is ``shift_residual`` and ``turn_residual``; ``turn`` (N, B) rad is the farthest any body turns. ``certified`` (N,): the branch is proven to exist and to be ours in the whole
    cell; where False, all bounds are infinite.
    """

    settings: Floats
    half: Floats
    posture: Posture
    shift_rate: Floats
    turn_rate: Floats
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
    system, posture = mechanism.system, solved.posture
    inverse = _inverse(system, posture)
    rates = -inverse @ mechanism.equations.by_settings()[system.chosen]
    residual = np.abs(mechanism.equations.values(posture, solved.settings)[:, system.chosen])
    size = np.abs(inverse) * ROUNDING
    scale = mechanism.equations.scale

    def applied(rest: Floats) -> Floats:
        reach = _reach(rates, half, rest, scale)
        left_out = mechanism.equations.second_order(posture, reach, half)[:, system.chosen]
        return np.asarray((size @ (left_out + residual)[..., None])[..., 0])

    rest = FIRST_BOX * applied(np.zeros(rates.shape[:2]))
    inside = applied(rest)
    turn = _reach(rates, half, rest, scale).turn
    with np.errstate(invalid="ignore"):
        certified = solved.reached & (inside <= SHRINK * rest).all(axis=1) & (turn <= WIDEST_TURN).all(axis=1)
    for _ in range(NARROWINGS):
        rest = np.minimum(rest, inside)
        inside = applied(rest)
    missed = (size @ residual[..., None])[..., 0]
    return _cell_motion(solved, half, rates, (rest, missed), certified, scale)


def travel(motion: CellMotion, body: int, other: int, points: Floats, radii: Floats, centres: Floats) -> Floats:
    """How far (N,) mm the balls (``points`` (k, 3) at rest, ``radii`` (k,)) of ``body`` can move against ``other``.

    Seen from ``other``: the distance between the two bodies' surfaces anywhere in the cell differs from
    that at its centre by no more. ``centres`` (B, 3): the bodies' reference points at rest.
    """
    if body == other:
        return np.zeros(len(motion))
    rotation = motion.posture.rotations[:, body]
    lever = np.einsum("nij,kj->nki", rotation, points - centres[body])
    lever_other = motion.posture.centres[:, body, None] + lever - motion.posture.centres[:, other, None]
    rate = _point_rate(motion, body, lever) - _point_rate(motion, other, lever_other)
    spin = motion.turn_rate[:, body] - motion.turn_rate[:, other]
    linear = _corner_norm(rate, motion.half[:, None]) + _corner_norm(spin, motion.half)[:, None] * radii
    rest = np.zeros_like(linear)
    for index, arm in ((body, lever), (other, lever_other)):
        length = np.linalg.norm(arm, axis=-1) + radii
        curl = motion.turn_rest[:, index] + 0.5 * motion.turn[:, index] ** 2
        rest = rest + motion.shift_rest[:, index, None] + curl[:, None] * length
    return np.asarray(np.where(motion.certified, ROUNDING * (linear + rest).max(axis=1), np.inf))


def _point_rate(motion: CellMotion, body: int, lever: Floats) -> Floats:
    """Velocity (N, k, 3, d) of points at ``lever`` (N, k, 3) from the body's centre."""
    turning = np.cross(motion.turn_rate[:, body].transpose(0, 2, 1)[:, None], lever[:, :, None])
    return np.asarray(motion.shift_rate[:, body, None] + turning.transpose(0, 1, 3, 2))


def _corner_norm(rate: Floats, half: Floats) -> Floats:
    """Largest length of ``rate`` (..., 3, d) times a setting step within ``half`` (..., d): reached at a corner."""
    steps = rate * half[..., None, :]
    longest = np.zeros(steps.shape[:-2])
    for signs in product((1.0, -1.0), repeat=max(rate.shape[-1] - 1, 0)):
        corner = np.array((1.0, *signs))[: rate.shape[-1]]
        longest = np.maximum(longest, np.linalg.norm(steps @ corner, axis=-1))
    return longest


def _reach(rates: Floats, half: Floats, rest: Floats, scale: float) -> Reach:
    count = len(rates)
    by_body = rates.reshape(count, -1, 6, rates.shape[2])
    left = rest.reshape(count, -1, 6)
    far = (np.linalg.norm(by_body[:, :, :3], axis=2) @ half[:, :, None])[..., 0] + np.linalg.norm(left[..., :3], axis=2)
    turn = (np.linalg.norm(by_body[:, :, 3:], axis=2) @ half[:, :, None])[..., 0] + np.linalg.norm(left[..., 3:], axis=2)
    ground = np.zeros((count, 1))
    return Reach(np.concatenate([ground, far], axis=1), np.concatenate([ground, turn / scale], axis=1))


def _inverse(system: System, posture: Posture) -> Floats:
    jacobian = system.equations.jacobian(posture)[:, system.chosen]
    unit = np.broadcast_to(np.eye(len(system.chosen)), jacobian.shape)
    return system.solve(jacobian, unit)


def _cell_motion(
    solved: Solved, half: Floats, rates: Floats, rests: tuple[Floats, Floats], certified: NDArray[np.bool_], scale: float
) -> CellMotion:
    count, _, drives = rates.shape
    by_body = np.concatenate([np.zeros((count, 1, 6, drives)), rates.reshape(count, -1, 6, drives)], axis=1)
    (shift_rest, turn_rest), (shift_residual, turn_residual) = (_norms(rest, scale) for rest in rests)
    return CellMotion(
        settings=solved.settings,
        half=half,
        posture=solved.posture,
        shift_rate=by_body[:, :, :3],
        turn_rate=by_body[:, :, 3:] / scale,
        shift_rest=shift_rest,
        turn_rest=turn_rest,
        shift_residual=shift_residual,
        turn_residual=turn_residual,
        turn=_reach(rates, half, rests[0], scale).turn,
        certified=certified,
    )


def _norms(rest: Floats, scale: float) -> tuple[Floats, Floats]:
    """Lengths (N, B) of the shift and rotation bounds of every body, the ground's zero first."""
    count = len(rest)
    left = np.concatenate([np.zeros((count, 1, 6)), rest.reshape(count, -1, 6)], axis=1)
    return np.linalg.norm(left[..., :3], axis=2), np.linalg.norm(left[..., 3:], axis=2) / scale


def residual_travel(motion: CellMotion, body: int, other: int, arm: float) -> Floats:
    """How much (N,) mm of ``travel`` comes from the solver's miss at the centres, for points within ``arm`` mm."""
    shift = motion.shift_residual[:, body] + motion.shift_residual[:, other]
    return np.asarray(shift + arm * (motion.turn_residual[:, body] + motion.turn_residual[:, other]))
