"""Walking downhill from the best setting known, so that a pair's least is the bottom of its hollow."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from assembly.clearance.queries import Bench, Job
from assembly.clearance.search import PairSearch, inverse_rigid
from assembly.geometry.mesh import Floats
from assembly.motion.solver import Mechanism, solve

ROUNDS = 14
FIRST_STEP = 3.0**-3
"""Share of each drive's range."""


def measure_at(mechanism: Mechanism, bench: Bench, searches: Sequence[PairSearch], settings: Sequence[Floats]) -> int:
    """Measure each pair at its own settings (k, d) and note what is found; returns how many postures were solved."""
    if not searches:
        return 0
    every, index = np.unique(np.concatenate(settings), axis=0, return_inverse=True)
    solved = solve(mechanism, every)
    jobs, rows, start = [], [], 0
    for search, own in zip(searches, settings, strict=True):
        row = index.reshape(-1)[start : start + len(own)]
        row = row[solved.reached[row]]
        start += len(own)
        posture = solved.posture.take(row)
        world_from_a = mechanism.world_from_rest(posture, search.a.part)
        world_from_b = mechanism.world_from_rest(posture, search.b.part)
        jobs.append(Job(search.a.solid, search.b.solid, inverse_rigid(world_from_a) @ world_from_b))
        rows.append(row)
    for search, row, distances in zip(searches, rows, bench.measure(jobs), strict=True):
        for k, distance in zip(row.tolist(), distances.tolist(), strict=True):
            search.found(distance, every[k])
    return len(every)


def polish(mechanism: Mechanism, bench: Bench, searches: Sequence[PairSearch]) -> int:
    """Pattern search over the drives, within their ranges, from each pair's best setting; returns postures solved."""
    drives = list(mechanism.machine.drives.values())
    low, high = np.array([drive.low for drive in drives]), np.array([drive.high for drive in drives])
    steps = np.concatenate([np.eye(len(drives)), -np.eye(len(drives))]) * (high - low)
    shares = {id(search): FIRST_STEP for search in searches}
    poses = 0
    for _ in range(ROUNDS):
        active = [search for search in searches if search.least > 0 and search.least_at is not None]
        before = [search.least for search in active]
        settings = [np.clip(search.least_at + shares[id(search)] * steps, low, high) for search in active]
        poses += measure_at(mechanism, bench, active, settings)
        for search, least in zip(active, before, strict=True):
            if search.least >= least:
                shares[id(search)] /= 3
    return poses
