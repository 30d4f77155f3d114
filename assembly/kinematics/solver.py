"""Where every part stands at given drive settings: followed from rest.

A posture is a function of the settings alone: the end of one way from rest, whatever else is asked. The way goes
straight to the nearest point of a lattice over the drives' ranges and on to the setting; where that way is blocked,
straight from rest. A setting that neither reaches is not reached. Each step is predicted by the exact velocities and
corrected by Newton's method; a step is taken only if the correction is small beside the step, no body
turned far and the derivative of no block changed so much that it could have lost its rank in between, which would
mean that a dead centre was passed and another assembly of the same links reached. Otherwise the step is halved.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats
from assembly.kinematics.array_stacks import stacked
from assembly.kinematics.assembling import REDUNDANT_RESIDUAL
from assembly.kinematics.idle_rolls import rolled_about
from assembly.kinematics.mechanism import Mechanism, Solved, Submechanism, settings_of
from assembly.kinematics.open_loop import loop_miss
from assembly.kinematics.reduced import each_group
from assembly.kinematics.rows import Posture
from assembly.kinematics.rows.base import dot
from assembly.kinematics.step import moved
from assembly.record import LostEntry, UnreachableEntry
from assembly.time_limit import check_time
from assembly.working_memory import at_once

RESIDUAL = 1e-9
"""mm: Newton's method goes on until no row misses by more or no unknown is corrected by more."""
SHORTEST_STEP = 1e-5
"""Share of the way from rest: where a shorter step than this would be needed, the machine goes no further."""
NEWTON_ROUNDS = 8
FARTHEST_TURN = 0.35
"""rad: no body may turn farther in one step."""
LARGEST_CORRECTION = 0.2
"""Newton's correction may be at most this share of the predicted step."""
AT_ONCE = 512
"""Postures solved as one stack at the most: beyond it nothing is gained."""
LATTICE = 8
"""Cells of the lattice along each drive's range; many settings share the way to one of its points."""


def solve(mechanism: Mechanism, settings: Floats) -> Solved:
    """Postures at ``settings`` (N, d) in the drives' units.

    Each is followed from rest by way of the nearest point of a lattice that rest is a point of; where that way is
    blocked, straight from rest. The lattice depends on the drives' ranges only, so a posture, and whether it is
    reached, never depends on what else is asked. Groups that have nothing to do with each other are solved one by one.
    """
    wanted = np.asarray(settings, dtype=np.float64).reshape(-1, len(mechanism.machine.drives))
    if mechanism.unrolled is not None:
        return _rolled(mechanism, mechanism.unrolled, wanted)
    if len(groups := each_group(mechanism)) > 1:
        return _group_by_group(mechanism, groups, wanted)
    return mechanism.blocked.rows(wanted, partial(_solve_new, mechanism), lambda found: ~found.reached)


def _solve_new(mechanism: Mechanism, wanted: Floats) -> Solved:
    """Postures of settings that were not yet found to be out of reach."""
    if not len(wanted):
        return from_rest(mechanism, wanted)
    lattice, nearest = _lattice(mechanism, wanted)
    anchors = mechanism.anchors.rows(lattice, partial(from_rest, mechanism))
    return follow_or_restart(mechanism, anchors, nearest, wanted)


def from_rest(mechanism: Mechanism, wanted: Floats) -> Solved:
    """Postures at ``wanted`` (N, d), each followed straight from rest."""
    return follow(mechanism, mechanism.at_rest, np.zeros(len(wanted), dtype=np.intp), wanted)


def _group_by_group(mechanism: Mechanism, groups: Sequence[Submechanism], wanted: Floats) -> Solved:
    """Postures of independent groups, each found once at settings of its own, put together."""
    home, count = mechanism.home, len(wanted)
    centres, rotations = (np.repeat(array, count, axis=0) for array in (home.centres, home.rotations))
    reached, share, squares = np.ones(count, dtype=bool), np.ones(count), np.zeros(count)
    for one in groups:
        own, row = np.unique(one.narrowed(wanted), axis=0, return_inverse=True)
        solved = solve(one.mechanism, own).take(row.reshape(-1))
        centres[:, one.bodies], rotations[:, one.bodies] = solved.posture.centres, solved.posture.rotations
        reached, share = reached & solved.reached, np.minimum(share, solved.share)
        squares += solved.residual**2
    return Solved(wanted, Posture(centres, rotations), reached, share, np.sqrt(squares))


def _rolled(mechanism: Mechanism, unrolled: Mechanism, wanted: Floats) -> Solved:
    """Postures with bodies rolled: those that the drives set, each found once, and rolled on from there."""
    drives = len(unrolled.machine.drives)
    every, row = np.unique(wanted[:, :drives], axis=0, return_inverse=True)
    return rolled_on(mechanism, solve(unrolled, every).take(row.reshape(-1)), wanted[:, drives:])


def rolled_on(mechanism: Mechanism, solved: Solved, rolls: Floats) -> Solved:
    """Postures of the drives alone, with the bodies that ``mechanism`` rolls turned on by ``rolls`` (N, r) degrees.

    No row misses by more for it: the ends lie on the line.
    """
    posture = solved.posture
    for number, degrees in zip(mechanism.rolls, rolls.T, strict=True):
        posture = rolled_about(mechanism.home, posture, mechanism.idle[number], degrees)
    settings = np.concatenate([solved.settings, rolls], axis=1)
    return Solved(settings, posture, solved.reached, solved.share, solved.residual)


def follow_or_restart(mechanism: Mechanism, known: Solved, start: NDArray[np.intp], settings: Floats) -> Solved:
    """Like ``follow``; straight from rest where the known posture was not reached or the way from it is blocked."""
    on = np.flatnonzero(known.reached[start])
    solved = follow(mechanism, known, start[on], settings[on])
    good = np.flatnonzero(solved.reached)
    again = np.setdiff1d(np.arange(len(settings)), on[good])
    if not len(again):
        return solved
    straight = from_rest(mechanism, settings[again])
    order = np.argsort(np.concatenate([on[good], again]), kind="stable")
    return stacked(solved.take(good), straight).take(order)


def _lattice(mechanism: Mechanism, wanted: Floats) -> tuple[Floats, NDArray[np.intp]]:
    """The points that are used of a lattice through rest over the drives' ranges, and which is nearest to each."""
    drives = mechanism.machine.drives.values()
    low, high = np.array([drive.low for drive in drives]), np.array([drive.high for drive in drives])
    spacing = np.maximum(high - low, 1e-12) / LATTICE
    points = np.clip(np.rint(wanted / spacing) * spacing, low, high) + 0.0
    used, nearest = np.unique(points, axis=0, return_inverse=True)
    return used, nearest.reshape(-1)


def follow(mechanism: Mechanism, known: Solved, start: NDArray[np.intp], settings: Floats) -> Solved:
    """Postures at ``settings`` (N, d), each followed along the straight line from the known posture ``start[k]``."""
    wanted = np.asarray(settings, dtype=np.float64)
    size = at_once(mechanism.system.bytes_each, AT_ONCE)
    stacks = [
        _follow_stack(
            mechanism,
            known.settings[start[k : k + size]],
            known.posture.take(start[k : k + size]),
            wanted[k : k + size],
        )
        for k in range(0, len(wanted), size)
    ]
    if not stacks:
        return Solved(wanted, known.posture.take(start), np.zeros(0, bool), np.zeros(0), np.zeros(0))
    return stacked(*stacks)


def unreachable(mechanism: Mechanism, solved: Solved, index: int) -> UnreachableEntry:
    """Which loop misses, and by how much, at the setting ``index`` that could not be reached."""
    settings = solved.settings[index : index + 1]
    machine, equations, system = mechanism.machine, mechanism.equations, mechanism.system
    loop, miss = loop_miss(machine, equations, solved.posture.take(np.array([index])), settings)
    tall = [block.rows for block in system.blocks if len(block.rows) > len(block.columns)]
    twice = any(equations.owners[row] in loop for rows in tall for row in rows)
    at = settings_of(machine, settings[0].tolist())
    return UnreachableEntry(at, loop, miss, float(solved.share[index]), "", held_twice=twice)


def lost_at(mechanism: Mechanism, solved: Solved, index: int) -> LostEntry:
    """As ``unreachable``, without how far one could go."""
    found = unreachable(mechanism, solved, index)
    return LostEntry(found.at, found.loop, found.miss_mm)


def _follow_stack(mechanism: Mechanism, origin: Floats, posture: Posture, wanted: Floats) -> Solved:
    """One stack of postures, each with its own step length, until all have arrived or are stuck."""
    walk = _Walk(mechanism, origin, posture, wanted)
    while len(active := walk.active()):
        check_time()
        walk.advance(active)
    posture = Posture(walk.centres, walk.rotations)
    residual = np.linalg.norm(mechanism.equations.values(posture, wanted), axis=1)
    reached = (walk.share >= 1.0) & (residual <= REDUNDANT_RESIDUAL)
    return Solved(wanted, posture, reached, walk.share, residual)


class _Walk:
    """State of a stack of postures on their way: how far each has come and how long its next step is."""

    def __init__(self, mechanism: Mechanism, origin: Floats, posture: Posture, wanted: Floats) -> None:
        self.system, self.scale = mechanism.system, mechanism.equations.scale
        self.origin, self.way = origin, wanted - origin
        self.centres, self.rotations = posture.centres.copy(), posture.rotations.copy()
        self.share, self.step = np.zeros(len(wanted)), np.ones(len(wanted))
        self.by_settings = mechanism.equations.by_settings
        self.slopes = mechanism.equations.slopes(posture)

    def active(self) -> NDArray[np.intp]:
        return np.flatnonzero((self.share < 1.0) & (self.step >= SHORTEST_STEP))

    def advance(self, active: NDArray[np.intp]) -> None:
        """Try one step for each active posture; lengthen what went well, halve what did not."""
        here = Posture(self.centres[active], self.rotations[active])
        share = np.minimum(1.0, self.share[active] + self.step[active])
        settings = self.origin[active] + share[:, None] * self.way[active]
        ahead = (share - self.share[active])[:, None] * self.way[active]
        slopes = self.slopes.take(active)
        predicted = self.system.solve(slopes, -dot(ahead[:, None], self.by_settings)[..., None])[..., 0]
        there, good = self._newton(here, predicted, settings)
        ahead_slopes = self.system.equations.slopes(there.take(good))
        regular = self.system.stays_regular(slopes.take(good), ahead_slopes)
        good[good] = regular
        won = active[good]
        self.slopes.put(won, ahead_slopes.take(regular))
        self.centres[won], self.rotations[won] = there.centres[good], there.rotations[good]
        self.share[won] = share[good]
        self.step[active] = np.where(good, 1.6 * self.step[active], 0.5 * self.step[active])

    def _newton(self, here: Posture, predicted: Floats, settings: Floats) -> tuple[Posture, NDArray[np.bool_]]:
        """Postures corrected after the ``predicted`` step, and which of them came out small beside it and right.

        A posture is left alone once it is right or its correction too large, so it never depends on its neighbours.
        """
        there, equations = moved(here, np.nan_to_num(self._limited(predicted)), self.scale), self.system.equations
        misses, corrected = equations.values(there, settings), np.zeros_like(predicted)
        settled = np.zeros(len(predicted), dtype=bool)
        for _ in range(NEWTON_ROUNDS):
            right = settled | (np.abs(misses).max(axis=1, initial=0.0) <= RESIDUAL)
            left = np.flatnonzero(~right & self._believable(predicted, corrected))
            if not len(left):
                break
            part = there.take(left)
            fix = -self.system.solve(equations.slopes(part), misses[left, :, None])[..., 0]
            settled[left] = np.abs(fix).max(axis=1, initial=0.0) <= RESIDUAL
            fix = np.nan_to_num(self._limited(fix))
            part = moved(part, fix, self.scale)
            there.centres[left], there.rotations[left] = part.centres, part.rotations
            corrected[left] += np.abs(fix)
            misses[left] = equations.values(part, settings[left])
        right = np.abs(misses).max(axis=1, initial=0.0) <= RESIDUAL
        small = right | (settled & (np.linalg.norm(misses, axis=1) <= REDUNDANT_RESIDUAL))
        return there, np.asarray(small & self._believable(predicted, corrected))

    def _limited(self, unknowns: Floats) -> Floats:
        turns = np.linalg.norm(unknowns.reshape(len(unknowns), -1, 6)[..., 3:], axis=-1).max(axis=1, initial=0.0)
        return np.asarray(unknowns * np.minimum(1.0, FARTHEST_TURN * self.scale / np.maximum(turns, 1e-300))[:, None])

    def _believable(self, predicted: Floats, corrected: Floats) -> NDArray[np.bool_]:
        step = np.linalg.norm(predicted, axis=1)
        fix = np.linalg.norm(corrected, axis=1)
        turns = np.linalg.norm(predicted.reshape(len(predicted), -1, 6)[..., 3:], axis=-1).max(axis=1, initial=0.0)
        near = turns <= FARTHEST_TURN * self.scale
        return np.asarray(near & ((fix <= LARGEST_CORRECTION * step) | (fix <= 1e-6 * self.scale)))
