"""Where the stops of two drives can sit: for a stop of one the farthest of the other, so that all between is usable.

Read along the lines of the grid, whose ends were closed in on; beside the line that governs, the ways halfway to its
neighbours are closed in on too.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from assembly.clearance.region.rule_tasks import RuleTasks
from assembly.clearance.region.rules import ROUNDING
from assembly.clearance.region.usable import Crossings, Grid, UsableRegion
from assembly.geometry.mesh import Floats, Ids

ROWS = 8
"""About as many stops of a drive are tried."""


@dataclass(frozen=True, slots=True)
class End:
    """How far a drive can go one way, and the crossing of the border that ends it."""

    value: float
    crossing: int


@dataclass(frozen=True, slots=True)
class Stops:
    """With drive ``axis`` stopped at ``low`` and ``high``: how far ``other`` can go each way; None if it cannot."""

    axis: int
    low: float
    high: float
    other: int
    ends: tuple[End, End] | None


def trade_offs(
    region: UsableRegion, found: Crossings, own: tuple[float, float], axis: int, other: int
) -> tuple[Stops, ...]:
    """The farthest stops of drive ``other`` for a choice of stops of drive ``axis``, ``own`` being that of the file."""
    grid = region.grid
    line, home = grid.lines[axis], grid.home
    index = {
        (int(node[axis]), int(way)): k
        for k, (node, along, way) in enumerate(zip(found.node, found.axis, found.way, strict=True))
        if along == other and _straight(region, node, other)
    }
    made = []
    for stop in _choice(line, own):
        low, high = max(-stop, float(line[0])), min(stop, float(line[-1]))
        across = np.flatnonzero((line >= low - 1e-9) & (line <= high + 1e-9)).tolist()
        middle = [tuple(k if drive == axis else home[drive] for drive in range(len(home))) for k in across]
        ends = None
        if all(region.usable[place] for place in middle):
            ends = (
                max(_ends(found, index, across, -1, other), key=lambda end: end.value),
                min(_ends(found, index, across, 1, other), key=lambda end: end.value),
            )
        made.append(Stops(axis, low, high, other, ends))
    return tuple(made)


def _ends(found: Crossings, index: dict[tuple[int, int], int], across: list[int], way: int, other: int) -> list[End]:
    return [End(float(found.inside[index[k, way], other]), index[k, way]) for k in across]


def _straight(region: UsableRegion, node: Ids, other: int) -> bool:
    """Whether all crossings from the middle of the drive ``other`` to ``node`` are usable."""
    home = region.grid.home[other]
    between = [slice(int(k), int(k) + 1) for k in node]
    between[other] = slice(min(home, int(node[other])), max(home, int(node[other])) + 1)
    return bool(region.usable[tuple(between)].all())


def _choice(line: Floats, own: tuple[float, float]) -> list[float]:
    """Stops of a drive, counted from rest to either side: none at all, about as many as wanted, and the file's own."""
    sizes = np.unique(np.abs(line).round(9))
    chosen = sizes[:: max(1, round(len(sizes) / ROWS))]
    return sorted({*chosen.tolist(), round(max(abs(own[0]), abs(own[1])), 9), float(sizes[-1]), 0.0})


def sharpened(rules: RuleTasks, region: UsableRegion, rows: Sequence[Stops], found: Crossings) -> tuple[Stops, ...]:
    """``rows`` with their ends drawn in where halfway to the lines beside the one that governs less is usable."""
    asked: dict[tuple[float, ...], tuple[int, float]] = {}
    for row in rows:
        for end in row.ends or ():
            for setting in _beside(region.grid, row, end, found):
                asked[setting] = row.other, region.grid.rest[row.other]
    if not asked:
        return tuple(rows)
    settings = np.array(list(asked))
    drawn: dict[tuple[float, ...], list[float]] = {}
    rooms = rules.rooms(settings)
    bad = np.flatnonzero(rooms.min(axis=0) < -ROUNDING)
    if len(bad):
        inside = settings[bad].copy()
        for place, (other, home) in zip(inside, (list(asked.values())[k] for k in bad), strict=True):
            place[other] = home
        kept, _, _ = rules.close_in(inside, settings[bad].copy(), rooms[:, bad].argmin(axis=0))
        drawn = {tuple(settings[k].tolist()): place for k, place in zip(bad.tolist(), kept.tolist(), strict=True)}
    return tuple(_drawn_in(row, region, found, drawn) for row in rows)


def _beside(grid: Grid, row: Stops, end: End, found: Crossings) -> Iterator[tuple[float, ...]]:
    """At the height of ``end``, halfway from the line that governs to those beside it, between the stops."""
    line, k = grid.lines[row.axis], int(found.node[end.crossing, row.axis])
    for n in (k - 1, k + 1):
        if 0 <= n < len(line) and row.low < (middle := float(line[k] + line[n]) / 2) < row.high:
            setting = [*grid.rest]
            setting[row.axis], setting[row.other] = middle, end.value
            yield tuple(setting)


def _drawn_in(
    row: Stops, region: UsableRegion, found: Crossings, drawn: Mapping[tuple[float, ...], list[float]]
) -> Stops:
    if row.ends is None:
        return row
    ends = []
    for end in row.ends:
        values = [end.value]
        for setting in _beside(region.grid, row, end, found):
            values += [drawn[setting][row.other]] if setting in drawn else []
        ends.append(End(min(values, key=abs), end.crossing))
    return replace(row, ends=(ends[0], ends[1]))
