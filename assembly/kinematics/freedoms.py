"""What can move and what nothing sets, by the rank of the derivatives; never by counting joints.

Counting gives wrong answers for overconstrained linkages; the rank gives the right one at a posture, and a
small real step along each free direction tells a true freedom from one that exists at that posture only.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import null_space, svd

from assembly.geometry.mesh import Floats
from assembly.kinematics.bodies import GROUND
from assembly.kinematics.rows import Posture
from assembly.kinematics.step import moved, project
from assembly.kinematics.system import Component, Equations
from assembly.model.machine import RollRule
from assembly.time_limit import check_time

RANK_TOLERANCE = 1e-6
"""Singular values below this share of the largest count as zero; every row and unknown is a length in mm."""


@dataclass(frozen=True, slots=True)
class Mobility:
    """Freedoms at one posture, drives let go."""

    freedoms: int
    """Unknowns less rank."""
    counted: int
    """Unknowns less rows: the count of joints (Grübler and Kutzbach), for comparison."""
    redundant: int
    """Rows that say nothing new."""


@dataclass(frozen=True, slots=True, eq=False)
class IdleRoll:
    """One or two bodies that can roll about their own line while nothing else moves."""

    bodies: tuple[int, ...]
    axis: Floats
    """Unit direction of the line at rest (3,)."""
    at: Floats
    """A point of the line at rest (3,) mm."""
    rule: RollRule | float = RollRule.FREE
    """At which rolls the bodies are judged, or the one in degrees at which they are clamped."""

    @property
    def clamped(self) -> bool:
        """Whether the file says at which roll the bodies are held."""
        return not isinstance(self.rule, RollRule)

    @property
    def held(self) -> float:
        """The roll in degrees from the shortest turn at which the solver holds the bodies where no setting says."""
        return 0.0 if isinstance(self.rule, RollRule) else self.rule


@dataclass(frozen=True, slots=True, eq=False)
class Unset:
    """Freedoms that no drive sets: the bodies that move in them, and whether they are more than an instant."""

    bodies: tuple[int, ...]
    lasting: bool
    count: int = 1


def mobility(equations: Equations, posture: Posture, *, rows: int | None = None) -> Mobility:
    """Freedoms of the first ``rows`` rows (default all) at the one ``posture``."""
    slopes, size = equations.slopes(posture), len(equations.owners) if rows is None else rows
    every = [
        np.linalg.svd(jacobian, compute_uv=False)
        for component in equations.components
        if min((jacobian := equations.jacobian_of(slopes, component)[component.rows < size]).shape)
    ]
    values = np.sort(np.concatenate([np.zeros(0), *every]))[::-1]
    unknowns = 6 * (len(equations.bodies) - 1)
    if not len(values):
        return Mobility(unknowns, unknowns - size, size)
    rank = int((values > RANK_TOLERANCE * values[0]).sum())
    return Mobility(unknowns - rank, unknowns - size, size - rank)


def find_idle_rolls(equations: Equations, posture: Posture) -> tuple[IdleRoll, ...]:
    """Rolls that single bodies, then pairs of joined bodies, can make on their own at rest.

    Only what balls alone tie to the rest of the machine counts; a flap on a pin is a freedom that wants a drive.
    """
    slopes, found = equations.slopes(posture), list[IdleRoll]()
    for component in equations.components:
        jacobian = equations.jacobian_of(slopes, component)
        place = {body: number for number, body in enumerate(component.bodies.tolist())}
        rolling: set[int] = set()
        for group in _alone_and_joined(equations, component):
            check_time()
            if rolling.intersection(group) or not _held_by_balls(equations, component, group):
                continue
            columns = np.concatenate([6 * place[body] + np.arange(6) for body in group])
            space = null_space(jacobian[:, columns], rcond=RANK_TOLERANCE)
            roll = _as_roll(space[:, 0], group, posture.centres[0], equations.scale) if space.shape[1] == 1 else None
            if roll is not None:
                rolling.update(group)
                found.append(roll)
    return tuple(sorted(found, key=lambda roll: (len(roll.bodies), roll.bodies)))


def _alone_and_joined(equations: Equations, component: Component) -> list[tuple[int, ...]]:
    """Each body of a component, then every two that rows tie to each other."""
    first, second = np.sort(equations.ends[:, component.rows], axis=0)
    tied = (first != second) & (first != GROUND)
    alone: list[tuple[int, ...]] = [(body,) for body in component.bodies.tolist()]
    return alone + sorted(set(zip(first[tied].tolist(), second[tied].tolist(), strict=True)))


def find_unset(equations: Equations, posture: Posture) -> tuple[Unset, ...]:
    """Freedoms that are left with all drives and rolls held, those of one group of bodies as one entry.

    None in a machine that can be swept. A group holds the bodies that some free motion takes along together; no
    motion of one group needs another, so each is distinguished (the projector on the free motions is block diagonal).
    """
    found = []
    for component, space in _free_motions(equations, posture):
        parts = space.reshape(-1, 6, space.shape[1])
        shared = np.abs(np.einsum("iak,jbk->iajb", parts, parts)).max(axis=(1, 3)) > 1e-6
        for group in _groups(shared):
            inside = np.repeat(np.isin(np.arange(len(shared)), group), 6)
            left, values, _right = np.linalg.svd(np.where(inside[:, None], space, 0.0), full_matrices=False)
            motions = np.zeros((int((values > 0.5).sum()), 6 * (len(equations.bodies) - 1)))
            motions[:, component.columns] = left[:, values > 0.5].T
            bodies = tuple(component.bodies[group].tolist())
            found.append(Unset(bodies, any(lasting(equations, posture, one) for one in motions), len(motions)))
    return tuple(sorted(found, key=lambda unset: unset.bodies))


def _free_motions(equations: Equations, posture: Posture) -> Iterator[tuple[Component, Floats]]:
    """Bases (6 b, k) of the free motions of each component that has any."""
    slopes = equations.slopes(posture)
    every = [(component, svd(equations.jacobian_of(slopes, component))) for component in equations.components]
    largest = max((values[0] for _, (_, values, _) in every if len(values)), default=0.0)
    for component, (_, values, right) in every:
        rank = int((values > RANK_TOLERANCE * largest).sum())
        if rank < len(right):
            yield component, right[rank:].T


def _groups(shared: NDArray[np.bool_]) -> list[list[int]]:
    """Indices that hang together by ``shared`` (n, n), in their order; those that share with nothing are in none."""
    groups: list[list[int]] = []
    seen = np.zeros(len(shared), dtype=bool)
    for start in np.flatnonzero(shared.diagonal()):
        if seen[start]:
            continue
        members = np.zeros(len(shared), dtype=bool)
        members[start] = True
        while (wider := members | shared[members].any(axis=0)).sum() > members.sum():
            members = wider
        seen |= members
        groups.append(np.flatnonzero(members).tolist())
    return groups


def lasting(equations: Equations, posture: Posture, direction: Floats, step: float = 0.02) -> bool:
    """Whether a real step along ``direction`` (unknowns,) can be made, or the joints pull the machine back.

    ``step`` is a share of the machine's scale. True where at least half of the step is left once
    the joints are closed again.
    """
    length = step * equations.scale
    settings = np.zeros((1, equations.ratios.shape[1]))
    stepped = moved(posture, length * direction[None], equations.scale)
    closed = project(equations, stepped, settings)
    if np.abs(equations.values(closed, settings)).max() > 1e-6:
        return False
    left = closed.centres - posture.centres, equations.scale * (closed.rotations - posture.rotations)
    return bool(np.sqrt(sum(float((part**2).sum()) for part in left)) > 0.5 * length)


def _held_by_balls(equations: Equations, component: Component, group: tuple[int, ...]) -> bool:
    """Whether nothing but points in common ties the bodies of ``group`` to others."""
    first, second = (np.isin(ends[component.rows], group) for ends in equations.ends)
    return bool(equations.is_point[component.rows][first != second].all())


def _as_roll(vector: Floats, group: Sequence[int], centres: Floats, scale: float) -> IdleRoll | None:
    """The line that all bodies of ``group`` turn about in ``vector``, or None where it is another motion."""
    lines = []
    for k, body in enumerate(group):
        shift, turn = vector[6 * k : 6 * k + 3], vector[6 * k + 3 : 6 * k + 6] / scale
        size = np.linalg.norm(turn)
        if size * scale < 1e-3:
            return None
        axis = turn / size
        if abs(shift @ axis) > 1e-6 * scale * size:
            return None
        lines.append((axis, centres[body] + np.cross(axis, shift) / size))
    axis, at = lines[0]
    for other, point in lines[1:]:
        if np.linalg.norm(np.cross(axis, other)) > 1e-6 or np.linalg.norm(np.cross(point - at, axis)) > 1e-4 * scale:
            return None
    lead = axis[int(np.argmax(np.abs(axis)))]
    return IdleRoll(tuple(group), axis * np.sign(lead), at)
