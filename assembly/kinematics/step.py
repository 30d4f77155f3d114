"""Small moves of postures, and the least-squares way back onto the joints."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, NamedTuple, TypeVar

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import lengths, rotation_from_vector
from assembly.kinematics.rows import Posture
from assembly.kinematics.system import Component, Equations

CLOSED = 1e-12
"""mm: joints that miss by less are closed."""
LONGEST_TURN = 0.3
"""rad: a Newton step that would turn a body by more is made shorter."""
_DAMPINGS = 12
"""Dampings tried for one step."""

State = TypeVar("State")


def rest_posture(equations: Equations) -> Posture:
    """Every body as drawn (one posture)."""
    centres = equations.bodies.centres
    return Posture(centres[None].copy(), np.broadcast_to(np.eye(3), (1, len(centres), 3, 3)).copy())


def moved(posture: Posture, unknowns: Floats, scale: float) -> Posture:
    """The postures after steps ``unknowns`` (N, 6 (B - 1)): shifts of centres, and rotation vectors times ``scale``."""
    steps = unknowns.reshape(len(unknowns), -1, 6)
    centres, rotations = posture.centres.copy(), posture.rotations.copy()
    centres[:, 1:] += steps[..., :3]
    rotations[:, 1:] = rotation_from_vector(steps[..., 3:] / scale) @ rotations[:, 1:]
    return Posture(centres, rotations)


def project(
    equations: Equations, posture: Posture, settings: Floats, weights: Floats | None = None, rounds: int = 60
) -> Posture:
    """Bring one posture onto its joints by damped least squares over all rows, the shortest way.

    ``weights`` (rows,) make some rows count less. The result may still miss; the caller looks. Bodies that do not hang
    together are brought there each on their own.
    """
    weight = np.ones(len(equations.owners)) if weights is None else weights
    misses = np.abs(weight * equations.values(posture, settings)[0])
    for component in equations.components:
        if misses[component.rows].max(initial=0.0) >= CLOSED:
            posture = _projected(equations, component, (posture, settings), weight, rounds)
    return posture


def _projected(
    equations: Equations, component: Component, start: tuple[Posture, Floats], weight: Floats, rounds: int
) -> Posture:
    """The posture of ``start``, at its settings, with the bodies of one component brought onto their joints."""
    (posture, settings), rows = start, component.rows
    step = np.zeros((1, 6 * (len(equations.bodies) - 1)))

    def misses(at: Posture) -> Floats:
        return np.asarray((weight * equations.values(at, settings)[0])[rows])

    def jacobian(at: Posture) -> Floats:
        return np.asarray(weight[rows, None] * equations.jacobian_of(equations.slopes(at), component))

    def stepped(at: Posture, by: Floats) -> tuple[Posture, Floats]:
        step[0, component.columns] = turning_less(by, equations.scale)
        there = moved(at, step, equations.scale)
        return there, misses(there)

    problem = LeastSquares(jacobian, stepped)
    return problem.solve(posture, misses(posture), CLOSED, rounds, least_gain=1e-14)[0]


@dataclass(frozen=True, slots=True)
class LeastSquares(Generic[State]):
    """Misses to be made small: their ``jacobian`` (m, n) at a state, and the state and misses after a step (n,)."""

    jacobian: Callable[[State], Floats]
    stepped: Callable[[State, Floats], tuple[State, Floats]]

    def solve(
        self, state: State, misses: Floats, target: float, rounds: int, least_gain: float = 0.0
    ) -> tuple[State, Floats]:
        """State and misses after damped steps (Levenberg and Marquardt), each of which makes the misses smaller.

        It ends where all ``misses`` (m,) mm are below ``target``, no step helps, or one helps by less than
        ``least_gain`` of what is left.
        """
        damping = 1e-6
        for _ in range(rounds):
            if np.abs(misses).max(initial=0.0) < target:
                break
            factors = factored(self.jacobian(state))
            for _ in range(_DAMPINGS):
                there, better = self.stepped(state, damped_step(factors, misses, damping))
                if better @ better < misses @ misses:
                    damping = max(damping / 10, 1e-14)
                    break
                damping *= 10
            else:
                break
            gain = np.linalg.norm(misses) - np.linalg.norm(better)
            state, misses = there, better
            if gain < least_gain * max(1.0, float(np.linalg.norm(misses))):
                break
        return state, misses


class Factors(NamedTuple):
    """A Jacobian (m, n) as ``left * values @ right``: factored once for all dampings that are tried."""

    left: Floats
    values: Floats
    right: Floats


def factored(jacobian: Floats) -> Factors:
    """The singular values of ``jacobian`` (m, n), and the directions they belong to."""
    return Factors(*np.linalg.svd(jacobian, full_matrices=False))


def damped_step(factors: Factors, misses: Floats, damping: float) -> Floats:
    """The damped least-squares step (n,) against ``misses`` (m,)."""
    left, values, right = factors
    kept = values > 1e-9 * values[0]
    gain = np.where(kept, values / (values**2 + damping * values[0] ** 2), 0.0)
    return np.asarray(-(right.T * gain) @ (left.T @ misses))


def turning_less(step: Floats, scale: float, more: int = 0) -> Floats:
    """``step`` (n,), shorter where it would turn a body too far; its last ``more`` unknowns belong to no body."""
    turns = lengths(step[: len(step) - more].reshape(-1, 6)[:, 3:]).max() / scale
    return np.asarray(step * min(1.0, LONGEST_TURN / max(turns, 1e-300)))
