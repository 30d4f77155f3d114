"""The settings at which the motions of joints are looked at first, before any bound on them is closed in on."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.kinematics.array_stacks import crossings_within
from assembly.kinematics.mechanism import Mechanism

SETTINGS = 1000
"""About this many settings are looked at first, spread evenly over the range with its ends and rest among them."""
FEWEST = 3
"""Settings along each drive, however many drives there are."""
MOST_SETTINGS = 20_000
"""Where the settings of drives that move something in common are more, those of each two drives are looked at."""


def first_settings(mechanism: Mechanism) -> Floats:
    """Settings (N, d) evenly from end to end of each drive, with 0 among them.

    Where that would be too many, those drives that move nothing in common take turns, the others being at rest.
    """
    every = tuple(range(len(mechanism.machine.drives)))
    if FEWEST ** len(every) <= SETTINGS:
        return _lattice(mechanism, every, SETTINGS)
    sets = mechanism.system.drives_together(every)
    return np.unique(np.concatenate([_lattice(mechanism, own, SETTINGS // len(sets)) for own in sets]), axis=0)


def _lattice(mechanism: Mechanism, own: Sequence[int], most: int) -> Floats:
    """About ``most`` settings (N, d), at least the ends and rest of each of the drives ``own``; the others at rest."""
    drives = list(mechanism.machine.drives.values())
    if not drives:
        return np.zeros((1, 0))
    count = max(FEWEST, int(most ** (1 / len(own))))
    ends = [(drives[number].low, drives[number].high) for number in own]
    values = [np.unique(np.append(np.linspace(low, high, count), 0.0)) for low, high in ends]
    crossed = crossings_within(values, MOST_SETTINGS)
    settings = np.zeros((len(crossed), len(drives)))
    settings[:, list(own)] = crossed
    return settings
