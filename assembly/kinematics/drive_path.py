"""A way from setting to setting: the postures on it, and the stretches on which there are none."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.kinematics.mechanism import Mechanism, Solved, settings_of
from assembly.kinematics.solver import lost_at, solve
from assembly.record import LeftOutEntry


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """What was reached on a way, in its order, and what is left out of it."""

    solved: Solved
    left_out: tuple[LeftOutEntry, ...]


def way_along(mechanism: Mechanism, settings: Floats) -> Way:
    """The postures at ``settings`` (N, d) that can be reached, one after another."""
    solved = solve(mechanism, settings)
    return Way(solved.take(np.flatnonzero(solved.reached)), tuple(_left_out(mechanism, solved)))


def _left_out(mechanism: Mechanism, solved: Solved) -> list[LeftOutEntry]:
    """The straight stretches that were not reached, from low to high; what is gone along twice is reported once."""
    boxes: list[tuple[Floats, Floats]] = []
    for line in _straight(solved):
        low, high = line.min(axis=0), line.max(axis=0)
        twin = next((number for number, box in enumerate(boxes) if _same_line(box, low, high)), len(boxes))
        known_low, known_high = boxes[twin] if twin < len(boxes) else (low, high)
        boxes[twin : twin + 1] = [(np.minimum(low, known_low), np.maximum(high, known_high))]
    return [_between_reached(mechanism, solved, low, high) for low, high in boxes]


def _straight(solved: Solved) -> Iterator[Floats]:
    """Settings (k, d) on one line, gone one way, that were not reached but for the first or the last."""
    bounds = np.flatnonzero(np.diff(np.concatenate([[True], solved.reached, [True]]).astype(int)))
    for start, stop in bounds.reshape(-1, 2).tolist():
        run = solved.settings[max(start - 1, 0) : stop + 1]
        ways = np.sign(np.diff(run, axis=0))
        turns = np.flatnonzero((ways[1:] != ways[:-1]).any(axis=1)) + 1
        for first, last in pairwise([0, *turns.tolist(), len(run) - 1]):
            yield run[first : last + 1]


def _same_line(box: tuple[Floats, Floats], low: Floats, high: Floats) -> bool:
    """Whether ``box`` and that from ``low`` to ``high`` meet and move the same drives."""
    meet = (box[0] <= high).all() and (low <= box[1]).all()
    return bool(meet and ((box[0] == box[1]) == (low == high)).all())


def _between_reached(mechanism: Mechanism, solved: Solved, low: Floats, high: Floats) -> LeftOutEntry:
    """The stretch between the nearest reached settings on a line, or to its end where nothing beyond is reached."""
    within = ((solved.settings >= low) & (solved.settings <= high)).all(axis=1)
    lost, reached = np.flatnonzero(within & ~solved.reached), solved.settings[within & solved.reached]
    ends = solved.settings[lost].min(axis=0), solved.settings[lost].max(axis=0)
    below, above = reached[(reached <= ends[0]).all(axis=1)], reached[(reached >= ends[1]).all(axis=1)]
    first = below.max(axis=0) if len(below) else ends[0]
    last = above.min(axis=0) if len(above) else ends[1]
    worst = int(lost[np.argmin(solved.share[lost])])
    stretch = [settings_of(mechanism.machine, end.tolist()) for end in (first, last)]
    return LeftOutEntry(stretch[0], stretch[1], lost_at(mechanism, solved, worst))
