"""Small moves of postures, and the least-squares way back onto the joints."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import lengths, rotation_from_vector
from assembly.kinematics.rows import Posture
from assembly.kinematics.system import Component, Equations

CLOSED = 1e-12
"""mm: joints that miss by less are closed."""
LONGEST_TURN = 0.3
"""rad: a Newton step that would turn a body by more is shortened."""


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
    (posture, settings), rows, damping = start, component.rows, 1e-6
    step = np.zeros((1, 6 * (len(equations.bodies) - 1)))
    misses = (weight * equations.values(posture, settings)[0])[rows]
    for _ in range(rounds):
        if np.abs(misses).max() < CLOSED:
            break
        jacobian = weight[rows, None] * equations.jacobian_of(equations.slopes(posture), component)
        factors = factored(jacobian)
        for _ in range(12):
            step[0, component.columns] = damped_step(factors, misses, damping, equations.scale)
            stepped = moved(posture, step, equations.scale)
            better = (weight * equations.values(stepped, settings)[0])[rows]
            if better @ better < misses @ misses:
                damping = max(damping / 10, 1e-14)
                break
            damping *= 10
        else:
            break
        gain = np.linalg.norm(misses) - np.linalg.norm(better)
        posture, misses = stepped, better
        if gain < 1e-14 * max(1.0, float(np.linalg.norm(misses))):
            break
    return posture


class Factors(NamedTuple):
    """A Jacobian (m, n) as ``left * values @ right``: factored once for all dampings that are tried."""

    left: Floats
    values: Floats
    right: Floats


def factored(jacobian: Floats) -> Factors:
    """The singular values of ``jacobian`` (m, n), and the directions they belong to."""
    return Factors(*np.linalg.svd(jacobian, full_matrices=False))


def damped_step(factors: Factors, misses: Floats, damping: float, scale: float, more: int = 0) -> Floats:
    """The damped least-squares step against ``misses``, shortened where it would turn a body too far.

    The last ``more`` columns of the Jacobian are unknowns that belong to no body.
    """
    left, values, right = factors
    kept = values > 1e-9 * values[0]
    gain = np.where(kept, values / (values**2 + damping * values[0] ** 2), 0.0)
    step = -(right.T * gain) @ (left.T @ misses)
    turns = lengths(step[: len(step) - more].reshape(-1, 6)[:, 3:]).max() / scale
    return np.asarray(step * min(1.0, LONGEST_TURN / max(turns, 1e-300)))
