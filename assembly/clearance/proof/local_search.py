"""Walking downhill from the best setting known, so that a pair's least is the bottom of its hollow."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from assembly.clearance.narrow_phase.queries import Bench, job_at
from assembly.clearance.proof.pair_search import PairSearch
from assembly.geometry.mesh import Floats
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.roll_columns import allowed, nearest_allowed
from assembly.kinematics.solver import solve

ROUNDS = 14
FIRST_STEP = 3.0**-3
"""Share of each drive's range."""


def distances_at(
    mechanism: Mechanism, bench: Bench, searches: Sequence[PairSearch], settings: Sequence[Floats]
) -> list[Floats]:
    """Distances (k,) mm of each pair at its own settings (k, d).

    Infinite where a setting cannot be reached, or the ends of a rod do not allow how it is rolled there.
    """
    if not searches:
        return []
    every, index = np.unique(np.concatenate(settings), axis=0, return_inverse=True)
    solved = solve(mechanism, every)
    stands = solved.reached & allowed(mechanism, solved.posture)
    rows = np.split(index.reshape(-1), np.cumsum([len(own) for own in settings])[:-1])
    jobs = []
    for search, row in zip(searches, rows, strict=True):
        jobs.append(job_at(mechanism, search.a, search.b, solved.posture.take(row[stands[row]])))
    found = []
    for row, measured in zip(rows, bench.look(jobs), strict=True):
        own = np.full(len(row), np.inf)
        own[stands[row]] = measured[:, 0]
        found.append(own)
    return found


def measure_at(mechanism: Mechanism, bench: Bench, searches: Sequence[PairSearch], settings: Sequence[Floats]) -> None:
    """Measure each pair at its own settings (k, d) and let it note the smallest distance found."""
    for search, own, distances in zip(
        searches, settings, distances_at(mechanism, bench, searches, settings), strict=True
    ):
        best = int(np.argmin(distances))
        search.found(float(distances[best]), own[best])


def local_search(mechanism: Mechanism, bench: Bench, searches: Sequence[PairSearch]) -> None:
    """Pattern search over the drives and rolls that move it, within their ranges, from each pair's best setting."""
    drives = list(mechanism.machine.drives.values())
    low, high = np.array([drive.low for drive in drives]), np.array([drive.high for drive in drives])
    steps = np.diag(high - low)
    moving = {id(search): mechanism.system.drives_between(search.a.body, search.b.body) for search in searches}
    shares = {id(search): FIRST_STEP for search in searches}
    looked: dict[int, set[tuple[float, ...]]] = {id(search): set() for search in searches}
    for _ in range(ROUNDS):
        active = [
            search
            for search in searches
            if search.least > 0 and search.least_at is not None and moving[id(search)].any()
        ]
        before = [search.least for search in active]
        own = [shares[id(search)] * steps[moving[id(search)]] for search in active]
        around = [
            np.clip(search.least_at + np.concatenate([step, -step]), low, high)
            for search, step in zip(active, own, strict=True)
        ]
        near = zip(active, _allowed_near(mechanism, around), strict=True)
        new = [(search, rows) for search, every in near if len(rows := _new(search, every, looked[id(search)]))]
        measure_at(mechanism, bench, [search for search, _ in new], [rows for _, rows in new])
        for search, least in zip(active, before, strict=True):
            if search.least >= least:
                shares[id(search)] /= 3


def _new(search: PairSearch, settings: Floats, looked: set[tuple[float, ...]]) -> Floats:
    """Those of ``settings`` (k, d) that were not looked at yet; at the end of a range a step may lead nowhere."""
    if search.least_at is not None:
        looked.add(tuple(search.least_at.tolist()))
    new = [number for number, one in enumerate(settings.tolist()) if tuple(one) not in looked]
    looked.update(map(tuple, settings.tolist()))
    return settings[new]


def _allowed_near(mechanism: Mechanism, settings: Sequence[Floats]) -> list[Floats]:
    """``nearest_allowed`` of several stacks of settings, solved as one."""
    if not settings:
        return []
    near = nearest_allowed(mechanism, np.concatenate(settings))
    return np.split(near, np.cumsum([len(own) for own in settings])[:-1])
