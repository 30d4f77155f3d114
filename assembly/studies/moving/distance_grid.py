"""The distances of the nearest pairs at round settings of the drives, so that a view can tell them as it moves.

They are measured by the narrow phase at poses that are solved. Between these settings nothing is known of them, and
nothing is interpolated.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from math import ceil, floor, log10

import numpy as np

from assembly.clearance.narrow_phase.witness import Witnesses
from assembly.clearance.proof.cached import PairFound
from assembly.geometry.mesh import Floats
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.solver import solve
from assembly.progress import Progress
from assembly.record import DistanceGrid

MOST_PAIRS = 12
MOST_QUERIES = 4000
"""About a second of distance queries on one core."""
ROUND = (1.0, 2.0, 2.5, 5.0)


def distance_grid(
    mechanism: Mechanism, witnesses: Witnesses, found: Sequence[PairFound], progress: Progress
) -> DistanceGrid:
    """The first of ``found`` at as many settings as there is time for.

    Left out are pairs that rolls move, of which one posture tells nothing. Raises TimeLimitError.
    """
    pairs = [one.result.pair for one in found if not one.result.rolls and not one.result.told_of_range][:MOST_PAIRS]
    drives = mechanism.machine.drives.values()
    most = int((MOST_QUERIES / max(1, len(pairs))) ** (1 / max(1, len(drives))) + 1e-9)
    axes = [round_settings(drive.low, drive.high, most) for drive in drives]
    solved = solve(mechanism, np.array(list(product(*axes))).reshape(-1, len(axes)))
    reached = np.flatnonzero(solved.reached)
    distances = np.full((len(pairs), len(solved.settings)), np.nan)
    for row, pair in enumerate(pairs):
        progress("distances at settings", row, len(pairs))
        distances[row, reached] = witnesses.distances(pair, solved.posture.take(reached))
    names = tuple((pair.a, pair.b) for pair in pairs)
    return DistanceGrid(dict(zip(mechanism.machine.drives, axes, strict=True)), names, distances)


def round_settings(low: float, high: float, most: int) -> Floats:
    """Both ends of a range and the multiples of a round step between them; ``most`` of them, or 3 if that is fewer."""
    if high <= low:
        return np.array([low])
    scale = 10.0 ** floor(log10((high - low) / max(3, most)))
    steps = (part * 10**power * scale for power in range(4) for part in ROUND)
    return next(values for step in steps if len(values := _multiples(low, high, step)) <= max(3, most))


def _multiples(low: float, high: float, step: float) -> Floats:
    first, last = ceil(low / step - 1e-9), floor(high / step + 1e-9)
    return np.unique(np.round([low, *(step * number for number in range(first, last + 1)), high], 9))
