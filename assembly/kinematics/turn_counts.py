"""Limits of motions that may pass half a turn, at postures: by their turns on the way from all drives at 0.

A posture tells an angle up to whole turns only. Where limits leave less than a turn and drives go less far, whoever
passes them is seen on the way; where they leave more, or are open to one side, the turns are counted.
"""

from __future__ import annotations

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.kinematics.array_stacks import stacked
from assembly.kinematics.joint_limits import Limit
from assembly.kinematics.joint_motion import nearest_turn
from assembly.kinematics.mechanism import Mechanism, Solved
from assembly.kinematics.solver import solve

STEP = 15.0
"""degrees or mm of a drive from one posture to the next on the way: no angle turns by half a turn meanwhile."""
NARROW = 270.0
"""degrees: limits no farther apart are seen to be passed before a whole turn hides it."""
NEAR = 90.0
"""degrees or mm: of drives that go no farther."""


def reserves(limit: Limit, mechanism: Mechanism, solved: Solved) -> Floats:
    """What is left (N,) of ``limit`` at postures; below 0 past it."""
    if not limit.motion.turning:
        return limit.reserve(solved.posture)
    if limit.high - limit.low <= NARROW and np.abs(solved.settings).max(initial=0.0) <= NEAR:
        values = limit.motion.values(solved.posture)
        values = nearest_turn(values, np.full(len(values), (limit.low + limit.high) / 2))
    else:
        values = values_with_turns(limit, mechanism, solved)
    left = np.minimum(limit.high - values, values - limit.low)
    return np.asarray(np.where(np.isnan(values), -np.inf, left))


def values_with_turns(limit: Limit, mechanism: Mechanism, solved: Solved) -> Floats:
    """The motion (N,) of a limit with the turns that it makes on straight ways from all drives at 0; NaN if unknown."""
    values = limit.motion.values(solved.posture)
    if not len(values):
        return values
    steps = int(np.ceil(np.abs(solved.settings).max(initial=0.0) / STEP))
    every = [mechanism.at_rest.take(np.zeros(len(values), dtype=np.intp))]
    every += [solve(mechanism, share * solved.settings) for share in np.arange(1, steps) / max(steps, 1)]
    way = stacked(*every)
    along = np.where(way.reached, limit.motion.values(way.posture), np.nan).reshape(-1, len(values))
    before = np.asarray(along[0])
    for one in [*along[1:], values]:
        before = nearest_turn(one, before)
    return before
