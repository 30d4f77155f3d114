"""How joints and drives hold a standing machine: the multipliers of the rows, as far as equilibrium settles them.

A row's multiplier λ is the force in N with which it resists; virtual work over all unknowns gives ``Jᵀ λ = -load``.
Where rows say the same twice, Jᵀ has a null space that may be added at will, so only what is blind to it is reported.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assembly.errors import AssemblyError, Fault
from assembly.geometry.mesh import Floats
from assembly.kinematics.freedoms import RANK_TOLERANCE
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rows import HeldRoll, Posture
from assembly.kinematics.system import Equations
from assembly.time_limit import check_time

OPEN = 1e-6
"""What the null space adds to a force counts from this share of its own size; rounding stays far below."""

NEAR_TOGGLE = 0.02
"""Blocks whose smallest singular value is below this share of the largest are called out: a plain four-bar about 6°
from its dead centre."""


@dataclass(frozen=True, slots=True, eq=False)
class Settled:
    """A force or moment as far as equilibrium settles it.

    ``known`` (c,): its part square to ``open`` (k, c), orthonormal directions along which it can be anything.
    """

    known: Floats
    open: Floats

    def __post_init__(self) -> None:
        self.known.setflags(write=False)
        self.open.setflags(write=False)

    @property
    def unique(self) -> bool:
        """Whether the whole of it is settled."""
        return not len(self.open)

    @property
    def least(self) -> float:
        """Its size where it is settled, else a size that it cannot fall below."""
        return float(np.linalg.norm(self.known))

    @property
    def size(self) -> float | None:
        """Its size; None if the split depends on stiffness."""
        return self.least if self.unique else None

    def along(self, direction: Floats) -> float | None:
        """Its component along the unit ``direction`` (c,); None if that is not settled."""
        return None if (np.abs(self.open @ direction) > OPEN).any() else float(self.known @ direction)

    def across(self, line: Floats) -> float | None:
        """Its size square to the unit ``line`` (c,); None if that is not settled."""
        aside = self.open - np.outer(self.open @ line, line)
        return None if (np.abs(aside) > OPEN).any() else self.least_across(line)

    def least_across(self, line: Floats) -> float:
        """Its size square to the unit ``line`` (c,) where that is settled, else a size that it cannot fall below."""
        free, values, _ = np.linalg.svd(np.vstack([self.open, line]).T, full_matrices=False)
        free = free[:, values > OPEN]
        return float(np.linalg.norm(self.known - free @ (free.T @ self.known)))


@dataclass(frozen=True, slots=True, eq=False)
class Slack:
    """A block of rows that holds its bodies softly: ``share`` is its smallest singular value over its largest."""

    bodies: tuple[int, ...]
    """The bodies that move most where the block gives way."""
    share: float


@dataclass(frozen=True, slots=True, eq=False)
class Statics:
    """One posture, ready to be loaded."""

    mechanism: Mechanism
    posture: Posture
    forces: Floats
    """(rows, 3): force on the second body per unit of each row's multiplier."""
    moments: Floats
    """(rows, 3) mm: moment on the second body about its centre per unit of each row's multiplier."""
    spare: Floats
    """(rows, k): multipliers that balance without any load, orthonormal."""
    against: Floats
    """(rows, 6 (B - 1)): multipliers per unit of load, the smallest that do."""

    @property
    def equations(self) -> Equations:
        """All rows: joints, drives, held rolls."""
        return self.mechanism.equations

    def multipliers(self, load: Floats) -> Floats:
        """One choice of multipliers (rows,) N that hold ``load`` (6 (B - 1),): force N, and moment over scale N."""
        return np.asarray(-self.against @ load)

    def settled(self, weights: Floats, multipliers: Floats, unit: float = 1.0) -> Settled:
        """The vector ``weights @ multipliers`` (c,); ``unit`` is what counts as one, mm for moments in N·mm."""
        left, values, _ = np.linalg.svd(weights @ self.spare / unit, full_matrices=True)
        count = int((values > OPEN).sum())
        free = left[:, :count]
        whole = weights @ multipliers
        return Settled(np.asarray(whole - free @ (free.T @ whole)), np.ascontiguousarray(free.T))


def statics_at(mechanism: Mechanism, posture: Posture) -> Statics:
    """The one ``posture`` of ``mechanism``. Raises AssemblyError at a dead centre, where no finite force holds it."""
    check_time()
    equations = mechanism.equations
    jacobian = _holding(equations, posture)
    unknowns = jacobian.shape[1]
    turned, corner = np.linalg.qr(jacobian, mode="complete")
    values = np.linalg.svd(corner[:unknowns], compute_uv=False)
    if values[-1] <= RANK_TOLERANCE * values[0]:
        raise _dead_centre(mechanism, np.linalg.svd(jacobian)[2][-1])
    forces, moments = _on_second(equations, posture)
    against = np.linalg.solve(corner[:unknowns], turned[:, :unknowns].T).T
    return Statics(mechanism, posture, forces, moments, turned[:, unknowns:], against)


def find_slack(statics: Statics, below: float) -> tuple[Slack, ...]:
    """Blocks whose share is less than ``below``, softest first: near a toggle small loads make large forces."""
    jacobian = _holding(statics.equations, statics.posture)
    found = []
    for block in statics.mechanism.system.blocks:
        own = jacobian[block.rows[:, None], block.columns]
        values = np.linalg.svd(own, compute_uv=False)
        if values[-1] < below * values[0]:
            moving = np.abs(np.linalg.svd(own)[2][-1])
            told = np.unique(block.columns[moving > 0.1 * moving.max()] // 6) + 1
            found.append(Slack(tuple(told.tolist()), float(values[-1] / values[0])))
    return tuple(sorted(found, key=lambda slack: slack.share))


def _holding(equations: Equations, posture: Posture) -> Floats:
    """The derivatives (rows, n), with held rolls as moments about their lines as they stand.

    The solver's own row for a roll is seen along the line at rest; its moment would lean from the line as it stands.
    """
    jacobian: Floats = equations.jacobian(posture)[0]
    start = 0
    for family in equations.families:
        if isinstance(family.rows, HeldRoll):
            for row, (body, axis) in enumerate(zip(family.rows.second, family.rows.axis, strict=True), start):
                jacobian[row] = 0.0
                jacobian[row, 6 * (body - 1) + 3 : 6 * body] = posture.rotations[0, body] @ axis
        start += len(family)
    return jacobian


def _on_second(equations: Equations, posture: Posture) -> tuple[Floats, Floats]:
    slopes = np.concatenate([family.rows.slopes(posture).second[0] for family in equations.families])
    return slopes[:, :3], equations.scale * slopes[:, 3:]


def _dead_centre(mechanism: Mechanism, motion: Floats) -> AssemblyError:
    size = np.linalg.norm(motion.reshape(-1, 6), axis=1)
    names = ", ".join(mechanism.bodies.label(int(body) + 1) for body in np.flatnonzero(size > 0.1 * size.max()))
    return AssemblyError(
        Fault(
            f"at this setting the machine stands at a dead centre: {names} can move although every drive is held",
            file=mechanism.machine.file,
            hint="no finite force holds it there; ask for a setting away from the dead centre",
        )
    )
