"""Which pairs are searched by one task: those of the same drives and bodies, so that they share cells and motion.

What a pair costs is not known before it is searched; boxes round its parts at some settings tell about how near it
comes, and its shapes and rolls how much there is to look at. There are many more tasks than workers and the longest go
first, so that a wrong guess evens out. How pairs are put together changes no result.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from assembly.clearance.narrow_phase.bounding_balls import box_gaps
from assembly.clearance.narrow_phase.checked_pairs import CheckedPair
from assembly.geometry.mesh import Floats
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.solver import solve

TASKS_A_WORKER = 4
PLACES = (0.0, 0.5, 1.0)
"""Shares of each drive's range at which boxes are looked at."""
MOST_PLACES = 81
NEAR_MM = 20.0
"""A gap between boxes that makes a pair cost half as much."""
OF_ROLLS = 3.0
"""How many times as much a pair costs for each roll that moves it."""
OF_ANY = 0.02
"""What any pair costs, against one of two shapes that come near."""


WORTH_WORKERS = 150.0
"""Pairs that cost less in all, as two dozen of few shapes do, are searched here sooner than workers get ready."""


@dataclass(frozen=True, slots=True)
class _Costed:
    """A pair by its number, what it costs about, and what it shares with others: drives, rolls and bodies."""

    pair: int
    cost: float
    shared: tuple[tuple[int, ...], tuple[int, ...], tuple[int, int]]


def task_groups(mechanism: Mechanism, pairs: Sequence[CheckedPair], workers: int) -> list[list[int]]:
    """The numbers of ``pairs`` for each task, the longest task first."""
    every = sorted(_costed(mechanism, pairs), key=lambda one: (one.shared, one.pair))
    most = sum(one.cost for one in every) / (TASKS_A_WORKER * workers)
    groups: list[list[_Costed]] = []
    for one in every:
        alike = groups and groups[-1][-1].shared[:2] == one.shared[:2]
        if not alike or sum(each.cost for each in groups[-1]) + one.cost > most:
            groups.append([])
        groups[-1].append(one)
    groups.sort(key=lambda own: -sum(one.cost for one in own))
    return [[one.pair for one in own] for own in groups]


def worth_workers(mechanism: Mechanism, pairs: Sequence[CheckedPair]) -> bool:
    """Whether there is enough to search for several workers."""
    return sum(one.cost for one in _costed(mechanism, pairs)) > WORTH_WORKERS


def _costed(mechanism: Mechanism, pairs: Sequence[CheckedPair]) -> Iterable[_Costed]:
    parts, body_of, system = mechanism.machine.parts, mechanism.bodies.body_of, mechanism.system
    boxes = _boxes(mechanism, {name for pair in pairs for name in (pair.a, pair.b)})
    for number, pair in enumerate(pairs):
        a, b = sorted((body_of[pair.a], body_of[pair.b]))
        rolls = tuple(k for k, roll in enumerate(mechanism.idle) if (a in roll.bodies) != (b in roll.bodies))
        drives = tuple(np.flatnonzero(system.drives_between(a, b)).tolist())
        gap = max(0.0, float(box_gaps(boxes[pair.a], boxes[pair.b]).min()))
        shapes = len(parts[pair.a].shapes) * len(parts[pair.b].shapes)
        cost = OF_ANY + shapes * OF_ROLLS ** len(rolls) * NEAR_MM / (NEAR_MM + gap)
        yield _Costed(number, OF_ANY if pair.rigidly_coupled else cost, (drives, rolls, (a, b)))


def _boxes(mechanism: Mechanism, names: Iterable[str]) -> dict[str, Floats]:
    """Boxes (N, 2, 3) mm round the boxes of parts at rest, at some settings."""
    drives = list(mechanism.machine.drives.values())
    few = PLACES if len(PLACES) ** len(drives) <= MOST_PLACES else PLACES[1:2]
    settings = [[drive.low + share * (drive.high - drive.low) for share in few] for drive in drives]
    solved = solve(mechanism, np.array([[0.0] * len(drives), *product(*settings)]))
    posture = solved.posture.take(np.flatnonzero(solved.reached))
    made = {}
    for name in names:
        corners = np.array(list(product(*mechanism.machine.parts[name].mesh.bounds.T)))
        place = mechanism.world_from_rest(posture, name)
        seen = corners @ place[:, :3, :3].transpose(0, 2, 1) + place[:, None, :3, 3]
        made[name] = np.stack([seen.min(axis=1), seen.max(axis=1)], axis=1)
    return made
