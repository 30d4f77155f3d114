"""What the play of each joint takes of a figure at the setting that governs it, to first order.

A figure changes by g · d where bodies move by d, and play moves them by C w (``kinematics/loose_motion.py``), so a
vector of misses of length r takes at most r |g C| over its directions, whichever way it goes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from assembly.clearance.sensitivity.places import Place
from assembly.kinematics.loose_rows import loose_rows
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rows import Reach
from assembly.kinematics.solver import solve

STILL = 1e-9
"""What is less is rounding."""


def taken_by_play(mechanism: Mechanism, places: Sequence[Place]) -> list[Mapping[str, float]]:
    """What each joint takes of each figure by the name of the joint, in the figure's unit; nothing where none has play.

    A place that cannot be reached has nothing taken of it.
    """
    loose = loose_rows(mechanism)
    if loose is None or not places:
        return [{} for _ in places]
    solved = solve(mechanism, np.array([place.settings for place in places]))
    posture, stacks = solved.posture, mechanism.system.stacks
    still = Reach(*(np.zeros((len(places), len(mechanism.bodies))) for _ in range(2)))
    inverse = stacks.left_inverse(mechanism.equations.slopes(posture))
    moved = stacks.times(inverse, loose.columns(posture, still))
    found: list[Mapping[str, float]] = []
    for number, place in enumerate(places):
        taken: dict[str, float] = {}
        if solved.reached[number]:
            change = place.gradient(mechanism, posture.take(np.array([number]))) @ moved[number]
            sizes = np.sqrt(np.add.reduceat(change**2, loose.starts))
            for owner, size in zip(loose.owners, sizes.tolist(), strict=True):
                taken[owner] = taken.get(owner, 0.0) + size
        found.append({name: size for name, size in taken.items() if size > STILL})
    return found
