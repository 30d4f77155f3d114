"""The usable region of the drives: the settings of a lattice that keep every rule and are connected to rest.

The lattice is a grid of lines over the drives, looked at where they cross. Between the last usable crossing of a line
and the first that is not, the border is closed in on along the line by halving.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import reduce

import numpy as np

from assembly.clearance.region.fixed_drives import free_and_fixed
from assembly.clearance.region.lattice_patches import patches_of
from assembly.clearance.region.rule_tasks import RuleTasks
from assembly.clearance.region.rules import NONE, ROUNDING, Standing
from assembly.geometry.mesh import Flags, Floats, Ids
from assembly.kinematics.array_stacks import crossings
from assembly.model.machine import Machine

NICE = (1.0, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)
"""Distances of lines, times a power of ten."""
AT_ONCE = 350
"""About as many settings are looked at in one task."""


@dataclass(frozen=True, slots=True, eq=False)
class Grid:
    """Lines over the drives: values along each drive, rising; one value where a drive is held.

    ``settings`` (N, d) where they cross, the last drive quickest; ``own`` (N,): those inside the file's own ranges.
    """

    lines: tuple[Floats, ...]
    free: tuple[int, ...]
    held: Mapping[str, float]
    settings: Floats
    own: Flags
    home: tuple[int, ...]
    """Which of the lines pass through rest, or through the setting at which a drive is held."""

    @property
    def counts(self) -> tuple[int, ...]:
        """How many lines there are along each drive."""
        return tuple(len(line) for line in self.lines)

    @property
    def rest(self) -> tuple[float, ...]:
        """The setting at rest, or at which a drive is held."""
        return tuple(float(line[k]) for line, k in zip(self.lines, self.home, strict=True))

    @property
    def steps(self) -> tuple[float, ...]:
        """The largest distance of two lines along each free drive."""
        return tuple(float(np.diff(self.lines[axis]).max(initial=0.0)) for axis in self.free)


def grid_of(machine: Machine, held: Mapping[str, float], cells: int) -> Grid:
    """Lines over the widened drives, about ``cells`` of them: round values, the ends, and the ends of the own range."""
    names = list(machine.drives)
    free, fixed = free_and_fixed(machine, held)
    lines = []
    for name, drive in machine.drives.items():
        wide = drive.widened
        step = nice_step((wide.high - wide.low) / cells)
        around = step * np.arange(np.ceil(wide.low / step), np.floor(wide.high / step) + 1) + 0.0
        ends = [sign * end for sign in (1, -1) for end in (drive.low, drive.high)]
        line = np.unique([wide.low, wide.high, *around, *(end for end in ends if wide.low <= end <= wide.high)])
        close = np.diff(line, append=np.inf) <= 1e-9 * step
        lines.append(np.array([fixed[name]]) if name in fixed else line[~close] + 0.0)
    settings = crossings(lines)
    low, high = (np.array([getattr(drive, end) for drive in machine.drives.values()]) for end in ("low", "high"))
    own = np.all((settings >= low - 1e-9) & (settings <= high + 1e-9), axis=1)
    home = tuple(int(np.argmin(np.abs(line - fixed.get(name, 0.0)))) for name, line in zip(names, lines, strict=True))
    return Grid(tuple(lines), tuple(names.index(name) for name in free), fixed, settings, own, home)


def nice_step(width: float) -> float:
    """The largest round number that is not above ``width``."""
    power = 10.0 ** np.floor(np.log10(width))
    return float(power * max(nice for nice in NICE if nice * power <= width * (1 + 1e-9)))


@dataclass(frozen=True, slots=True, eq=False)
class UsableRegion:
    """The grid, how the rules stand on it, and which crossings are ``usable`` (counts)."""

    grid: Grid
    standing: Standing
    usable: Flags


@dataclass(frozen=True, slots=True, eq=False)
class Crossings:
    """Places (K,) where a line leaves the usable region, from crossing ``node`` (K, d) along ``axis`` by ``way`` (K,).

    ``inside`` (K, d): the last setting found that keeps all rules; ``outside`` (K, d): one next to it that does not,
    and ``rooms`` (R, K) of all rules there. Where the grid ends, both are its end, and ``ended`` is set.
    """

    node: Ids
    axis: Ids
    way: Ids
    inside: Floats
    outside: Floats
    rooms: Floats
    ended: Flags

    def broken(self, index: int) -> frozenset[int]:
        """Numbers of the rules that are broken outside."""
        return frozenset(np.flatnonzero(self.rooms[:, index] < -ROUNDING).tolist())


def look_at(rules: RuleTasks, grid: Grid) -> UsableRegion:
    """The usable region of the grid, looked at some rows of its first free drive at a time."""
    total = len(grid.settings)
    row = total // next((count for count in grid.counts if count > 1), 1)
    step = row * max(1, round(AT_ONCE / row))
    standing = reduce(Standing.joined, rules.over([grid.settings[k : k + step] for k in range(0, total, step)]))
    holds = (standing.worst == NONE).reshape(grid.counts)
    patches = patches_of(holds, grid.counts).reshape(grid.counts)
    usable = holds & (patches == patches[grid.home])
    return UsableRegion(grid, standing, usable)


def border_of(rules: RuleTasks, region: UsableRegion) -> Crossings:
    """Every place where a line of the grid leaves the usable region, closed in on along the line."""
    grid, usable = region.grid, region.usable
    worst = region.standing.worst.reshape(grid.counts)
    node, axis, way, ahead = [], [], [], []
    ended: list[bool] = []
    for place in np.argwhere(usable):
        for drive in grid.free:
            for step in (-1, 1):
                there = place.copy()
                there[drive] += step
                beyond_grid = not 0 <= there[drive] < grid.counts[drive]
                if beyond_grid or not usable[tuple(there)]:
                    node.append(place)
                    axis.append(drive)
                    way.append(step)
                    ended.append(beyond_grid)
                    ahead.append(place if beyond_grid else there)
    nodes, beyond = (np.array(some, dtype=np.intp).reshape(-1, len(grid.lines)) for some in (node, ahead))
    off = np.array(ended, dtype=bool)
    inside, outside = _settings(grid, nodes), _settings(grid, beyond)
    # Places on one side of the border follow each other, so that what is measured at one tells of the next.
    order = np.lexsort((*nodes.T[::-1], way, axis))
    open_ = order[~off[order]]
    governor = np.array([worst[tuple(place)] for place in beyond[open_]], dtype=np.intp)
    inside[open_], outside[open_], near = rules.close_in(inside[open_], outside[open_], governor, "border")
    rooms = np.full((len(rules.every), len(off)), np.inf)
    rooms[:, open_] = rules.rooms(outside[open_], near)
    return Crossings(nodes, np.array(axis, dtype=np.intp), np.array(way, dtype=np.intp), inside, outside, rooms, off)


def _settings(grid: Grid, nodes: Ids) -> Floats:
    return np.stack([line[nodes[:, k]] for k, line in enumerate(grid.lines)], axis=1)
