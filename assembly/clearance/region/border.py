"""The border of the usable region over two drives: closed lines through the places where the grid leaves it.

The lines are those of the contour of a grid of yes and no, square by square (W. Lorensen and H. Cline's marching cubes,
1987, in the plane; from memory), through the places on the grid's lines as they were closed in on. The region lies
to the left.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from assembly.clearance.region.rule_tasks import RuleTasks
from assembly.clearance.region.rules import ROUNDING
from assembly.clearance.region.usable import Crossings, UsableRegion
from assembly.geometry.mesh import Flags, Floats

Governors = frozenset[int]
Edge = tuple[int, int, int]
"""A piece of a line of the grid: the crossing at its start, with a ring of unusable ones round all, and its drive."""
Ends = Mapping[Edge, int]


@dataclass(frozen=True, slots=True, eq=False)
class Stretch:
    """A stretch of the border, ``points`` (K, 2) over the free drives, that the rules ``governors`` end together.

    ``places``: numbers of the crossings on it. ``ended``: it is the end of what was looked at. ``loop``: which of the
    closed lines of the border it is part of.
    """

    governors: Governors
    ended: bool
    points: Floats
    places: tuple[int, ...]
    loop: int

    @property
    def length(self) -> float:
        """In drive units, along its points."""
        return float(np.linalg.norm(np.diff(self.points, axis=0), axis=1).sum())


def stretches_of(rules: RuleTasks, region: UsableRegion, found: Crossings) -> tuple[Stretch, ...]:
    """Every stretch of the border over one or two free drives, along each closed line in turn."""
    free = list(region.grid.free)
    if len(free) == 1:
        return tuple(
            Stretch(found.broken(k), bool(found.ended[k]), found.inside[[k]][:, free], (k,), 0)
            for k in range(len(found.node))
        )
    made: list[Stretch] = []
    for number, line in enumerate(_lines(region, found)):
        runs = _runs([(found.broken(k), bool(found.ended[k])) for k in line])
        made += _joined(rules, region, found, [([line[k] for k in run], key) for run, key in runs], number)
    return tuple(made)


def _lines(region: UsableRegion, found: Crossings) -> Iterator[list[int]]:
    """Numbers of the crossings along each closed line of the border, the longest line first."""
    first, second = region.grid.free
    ends: dict[Edge, int] = {}
    for k, (node, axis, way) in enumerate(zip(found.node, found.axis, found.way, strict=True)):
        start = [int(node[first]) + 1, int(node[second]) + 1]
        along = region.grid.free.index(int(axis))
        start[along] -= int(way < 0)
        ends[start[0], start[1], along] = k
    usable = np.pad(region.usable.reshape([region.grid.counts[axis] for axis in (first, second)]), 1)
    after = dict(_steps(usable, ends))
    lines = []
    while after:
        here = next(iter(after))
        line = []
        while here in after:
            line.append(here)
            here = after.pop(here)
        lines.append(line)
    yield from sorted(lines, key=len, reverse=True)


def _steps(usable: Flags, ends: Ends) -> Iterator[tuple[int, int]]:
    """From each crossing to the next along the border, square by square; usable corners that touch are kept apart."""
    for i, j in np.ndindex(usable.shape[0] - 1, usable.shape[1] - 1):
        corners = [(i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)]
        sides: list[Edge] = [(i, j, 0), (i + 1, j, 1), (i, j + 1, 0), (i, j, 1)]
        inside = [bool(usable[corner]) for corner in corners]
        turns = [(k, inside[(k + 1) % 4]) for k in range(4) if inside[k] != inside[(k + 1) % 4]]
        for index, (side, enters) in enumerate(turns):
            if not enters:
                yield ends[sides[side]], ends[sides[turns[index - 1][0]]]


Key = tuple[Governors, bool]


def _runs(keys: Sequence[Key]) -> list[tuple[list[int], Key]]:
    """Places of a closed line in runs that have rules in common, which are then the run's."""
    start = next((k for k in range(len(keys)) if _common(keys[k - 1], keys[k]) is None), 0)
    runs: list[tuple[list[int], Key]] = []
    for k in (*range(start, len(keys)), *range(start)):
        common = _common(runs[-1][1], keys[k]) if runs else None
        if common is None:
            runs.append(([k], keys[k]))
        else:
            runs[-1] = ([*runs[-1][0], k], common)
    return runs


def _common(one: Key, other: Key) -> Key | None:
    if one[1] or other[1]:
        return one if one == other else None
    both = one[0] & other[0]
    return (both, False) if both else None


def _joined(
    rules: RuleTasks, region: UsableRegion, found: Crossings, runs: Sequence[tuple[list[int], Key]], loop: int
) -> Iterator[Stretch]:
    """Runs of crossings as stretches that meet: at the corner of their two lines where that is usable, else halfway."""
    free = list(region.grid.free)
    if len(runs) == 1:
        ((places, (governors, ended)),) = runs
        yield Stretch(governors, ended, found.inside[[*places, places[0]]][:, free], tuple(places), loop)
        return
    meets = _meets(rules, region, found, [(runs[k - 1][0][-1], runs[k][0][0]) for k in range(len(runs))])
    for k, (places, (governors, ended)) in enumerate(runs):
        last = meets[(k + 1) % len(runs)]
        points = np.concatenate([meets[k], found.inside[places][:, free], last])
        yield Stretch(governors, ended, _without_repeats(points), tuple(places), loop)


def _meets(rules: RuleTasks, region: UsableRegion, found: Crossings, ends: Sequence[tuple[int, int]]) -> list[Floats]:
    """Where (1, 2) one stretch gives way to the next, between the crossings at their ends."""
    free = list(region.grid.free)
    corners, owners = [], []
    for k, (one, other) in enumerate(ends):
        if found.axis[one] != found.axis[other]:
            corner = found.inside[one].copy()
            corner[found.axis[other]] = found.inside[other][found.axis[other]]
            corners.append(corner)
            owners.append(k)
    places = [found.inside[[one, other]][:, free].mean(axis=0, keepdims=True) for one, other in ends]
    if corners:
        kept = rules.rooms(np.array(corners)).min(axis=0) >= -ROUNDING
        for k, corner, keeps in zip(owners, corners, kept.tolist(), strict=True):
            if keeps:
                places[k] = corner[None, free]
    return places


def _without_repeats(points: Floats) -> Floats:
    kept = [0, *(k + 1 for k, (one, other) in enumerate(pairwise(points)) if np.abs(other - one).max() > 1e-9)]
    return np.asarray(points[kept])
