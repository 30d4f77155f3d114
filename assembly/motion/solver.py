"""Where every part stands at given drive settings: followed from rest.

A posture is a function of the settings alone: it is the end of the straight line from rest in the space
of settings, followed on one assembly of the links. Each step is predicted by the exact velocities and
corrected by Newton's method; a step is taken only if the correction is small beside the step, no body
turned far and no block's determinant changed its sign, which would mean that a dead centre was passed
and another assembly of the same links reached. Otherwise the step is halved.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats
from assembly.motion.assembling import REDUNDANT_RESIDUAL, loop_miss
from assembly.motion.mechanism import Mechanism, Solved, Unreachable
from assembly.motion.rows import Posture, joined_postures
from assembly.motion.step import moved

RESIDUAL = 1e-9
"""mm: Newton's method goes on until no chosen row misses by more."""
SHORTEST_STEP = 1e-5
"""Share of the way from rest: where a shorter step than this would be needed, the machine goes no further."""
NEWTON_ROUNDS = 8
FARTHEST_TURN = 0.35
"""rad: no body may turn farther in one step."""
LARGEST_CORRECTION = 0.2
"""Newton's correction may be at most this share of the predicted step."""
AT_ONCE = 512
"""Postures solved as one stack; keeps the working memory near 50 MB."""
MANY = 64
"""From this number of settings on, postures are followed by way of a lattice."""
LATTICE = 8
"""Cells of that lattice along each drive."""


def solve(mechanism: Mechanism, settings: Floats) -> Solved:
    """Postures at ``settings`` (N, d) in the drives' units.

    Few settings are followed from rest. Many go by way of the nearest of a coarse lattice of settings that were
    followed from rest, which is quicker and comes to the same assembly as long as no dead centre lies between.
    """
    wanted = np.asarray(settings, dtype=np.float64).reshape(-1, len(mechanism.machine.drives))
    home = Solved(np.zeros((1, wanted.shape[1])), mechanism.home, np.ones(1, bool), np.ones(1), np.zeros(1))
    from_home = np.zeros(len(wanted), dtype=np.intp)
    if len(wanted) < MANY:
        return follow(mechanism, home, from_home, wanted)
    lattice, nearest = _lattice(wanted)
    anchors = follow(mechanism, home, np.zeros(len(lattice), dtype=np.intp), lattice)
    return retried_from_rest(mechanism, follow(mechanism, anchors, nearest, wanted), anchors.reached[nearest])


def retried_from_rest(mechanism: Mechanism, solved: Solved, trusted: NDArray[np.bool_]) -> Solved:
    """``solved`` with the settings that were not reached, or not from a ``trusted`` (N,) start, followed from rest."""
    again = np.flatnonzero(~(solved.reached & trusted))
    home = Solved(np.zeros_like(solved.settings[:1]), mechanism.home, np.ones(1, bool), np.ones(1), np.zeros(1))
    return _replaced(
        solved, again, follow(mechanism, home, np.zeros(len(again), dtype=np.intp), solved.settings[again])
    )


def _lattice(wanted: Floats) -> tuple[Floats, NDArray[np.intp]]:
    """Settings on a coarse lattice over the box of ``wanted``, and which of them is nearest to each."""
    low, high = wanted.min(axis=0), wanted.max(axis=0)
    spacing = np.maximum(high - low, 1e-12) / LATTICE
    index = np.rint((wanted - low) / spacing)
    used, nearest = np.unique(index, axis=0, return_inverse=True)
    return low + used * spacing, nearest.reshape(-1)


def _replaced(solved: Solved, index: NDArray[np.intp], other: Solved) -> Solved:
    if not len(index):
        return solved
    keep = np.ones(len(solved.settings), dtype=bool)
    keep[index] = False
    order = np.argsort(np.concatenate([np.flatnonzero(keep), index]), kind="stable")

    def mixed(mine: NDArray[Any], theirs: NDArray[Any]) -> NDArray[Any]:
        return np.concatenate([mine[keep], theirs])[order]

    return Solved(
        solved.settings,
        joined_postures(solved.posture.take(keep), other.posture).take(order),
        mixed(solved.reached, other.reached),
        mixed(solved.share, other.share),
        mixed(solved.residual, other.residual),
    )


def follow(mechanism: Mechanism, known: Solved, start: NDArray[np.intp], settings: Floats) -> Solved:
    """Postures at ``settings`` (N, d), each followed along the straight line from the known posture ``start[k]``."""
    wanted = np.asarray(settings, dtype=np.float64)
    stacks = [
        _follow_stack(
            mechanism,
            known.settings[start[k : k + AT_ONCE]],
            known.posture.take(start[k : k + AT_ONCE]),
            wanted[k : k + AT_ONCE],
        )
        for k in range(0, len(wanted), AT_ONCE)
    ]
    if not stacks:
        return Solved(wanted, known.posture.take(start), np.zeros(0, bool), np.zeros(0), np.zeros(0))
    return Solved(
        wanted,
        joined_postures(*(stack.posture for stack in stacks)),
        np.concatenate([stack.reached for stack in stacks]),
        np.concatenate([stack.share for stack in stacks]),
        np.concatenate([stack.residual for stack in stacks]),
    )


def unreachable(mechanism: Mechanism, solved: Solved, index: int) -> Unreachable:
    """Which loop misses, and by how much, at the setting ``index`` that could not be reached."""
    settings = solved.settings[index : index + 1]
    machine, equations = mechanism.machine, mechanism.equations
    loop, miss = loop_miss(machine, equations, solved.posture.take(np.array([index])), settings)
    return Unreachable(tuple(settings[0].tolist()), float(solved.share[index]), loop, miss)


def _follow_stack(mechanism: Mechanism, origin: Floats, posture: Posture, wanted: Floats) -> Solved:
    """One stack of postures, each with its own step length, until all have arrived or are stuck."""
    walk = _Walk(mechanism, origin, posture, wanted)
    while len(active := walk.active()):
        walk.advance(active)
    posture = Posture(walk.centres, walk.rotations)
    residual = np.abs(mechanism.equations.values(posture, wanted)).max(axis=1, initial=0.0)
    reached = (walk.share >= 1.0) & (residual <= REDUNDANT_RESIDUAL)
    return Solved(wanted, posture, reached, walk.share, residual)


class _Walk:
    """State of a stack of postures on their way: how far each has come and how long its next step is."""

    def __init__(self, mechanism: Mechanism, origin: Floats, posture: Posture, wanted: Floats) -> None:
        self.system, self.scale = mechanism.system, mechanism.equations.scale
        self.origin, self.way = origin, wanted - origin
        self.centres, self.rotations = posture.centres.copy(), posture.rotations.copy()
        self.share, self.step = np.zeros(len(wanted)), np.ones(len(wanted))
        self.by_settings = mechanism.equations.by_settings()[self.system.chosen]

    def active(self) -> NDArray[np.intp]:
        return np.flatnonzero((self.share < 1.0) & (self.step >= SHORTEST_STEP))

    def advance(self, active: NDArray[np.intp]) -> None:
        """Try one step for each active posture; lengthen what went well, halve what did not."""
        here = Posture(self.centres[active], self.rotations[active])
        share = np.minimum(1.0, self.share[active] + self.step[active])
        settings = self.origin[active] + share[:, None] * self.way[active]
        ahead = (share - self.share[active])[:, None] * self.way[active]
        jacobian = self.system.equations.jacobian(here)[:, self.system.chosen]
        predicted = self.system.solve(jacobian, -(ahead @ self.by_settings.T)[..., None])[..., 0]
        there, corrected, small = self._newton(here, predicted, settings)
        good = small & self._believable(predicted, corrected) & self._same_branch(jacobian, there)
        won = active[good]
        self.centres[won], self.rotations[won] = there.centres[good], there.rotations[good]
        self.share[won] = share[good]
        self.step[active] = np.where(good, 1.6 * self.step[active], 0.5 * self.step[active])

    def _newton(self, here: Posture, predicted: Floats, settings: Floats) -> tuple[Posture, Floats, NDArray[np.bool_]]:
        there = moved(here, np.nan_to_num(self._limited(predicted)), self.scale)
        corrected = np.zeros_like(predicted)
        chosen, equations = self.system.chosen, self.system.equations
        for _ in range(NEWTON_ROUNDS):
            misses = equations.values(there, settings)[:, chosen]
            if np.abs(misses).max(initial=0.0) <= RESIDUAL:
                break
            fix = -self.system.solve(equations.jacobian(there)[:, chosen], misses[..., None])[..., 0]
            fix = np.nan_to_num(self._limited(fix))
            there, corrected = moved(there, fix, self.scale), corrected + np.abs(fix)
        misses = equations.values(there, settings)[:, chosen]
        return there, corrected, np.abs(misses).max(axis=1, initial=0.0) <= RESIDUAL

    def _limited(self, unknowns: Floats) -> Floats:
        turns = np.linalg.norm(unknowns.reshape(len(unknowns), -1, 6)[..., 3:], axis=-1).max(axis=1, initial=0.0)
        return np.asarray(unknowns * np.minimum(1.0, FARTHEST_TURN * self.scale / np.maximum(turns, 1e-300))[:, None])

    def _believable(self, predicted: Floats, corrected: Floats) -> NDArray[np.bool_]:
        step = np.linalg.norm(predicted, axis=1)
        fix = np.linalg.norm(corrected, axis=1)
        turns = np.linalg.norm(predicted.reshape(len(predicted), -1, 6)[..., 3:], axis=-1).max(axis=1, initial=0.0)
        near = turns <= FARTHEST_TURN * self.scale
        return np.asarray(near & ((fix <= LARGEST_CORRECTION * step) | (fix <= 1e-6 * self.scale)))

    def _same_branch(self, jacobian: Floats, there: Posture) -> NDArray[np.bool_]:
        before = self.system.determinants(jacobian)
        after = self.system.determinants(self.system.equations.jacobian(there)[:, self.system.chosen])
        return np.asarray((before[..., 0] == after[..., 0]).all(axis=1))
