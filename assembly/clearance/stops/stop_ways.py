"""The ways that stops are fitted to, gone once however many stops and rounds ask for them, and what a proof adds.

A design looks at a lattice of settings of the other drives. Where its proof fails, the setting that shows it is looked
at as well, and the stop is fitted anew.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from assembly.clearance.narrow_phase.pair_result import Setting
from assembly.clearance.region.run_out import RunOut, setting_of
from assembly.clearance.stops.design_tasks import FREE, Kept, WaysAsked, divided, has_margins, ways_task
from assembly.clearance.stops.stop_blow import Ground
from assembly.geometry.mesh import Floats
from assembly.kinematics.mechanism import Mechanism
from assembly.model.machine import Drive
from assembly.model.travel_stop import RangeEnd, TravelStop
from assembly.parallel.every_result import EveryResult

LOOKED_AT = {1: 9, 2: 5}
"""Settings looked at of each other drive, by how many others there are; beyond two, ``FEWEST``."""
FEWEST = 3
AS_GOOD = 1e-3
"""Share of a range; settings nearer to 0 need not be looked at besides."""


@dataclass(frozen=True, slots=True)
class Corrections:
    """What proofs that failed have added to a design.

    ``rows``: settings of the other drives (0 for its own) to be looked at as well, by drive and side. By the stop's
    name, ``held_back``: drive units by which it must act sooner than its margins ask, and ``pressing``: how many times
    as far as at first it is pressed where it is to be shown that it is struck.
    """

    rows: dict[tuple[str, RangeEnd], list[Setting]] = field(default_factory=dict)
    held_back: dict[str, float] = field(default_factory=dict)
    pressing: dict[str, float] = field(default_factory=dict)

    def about(self, stop: TravelStop) -> tuple[object, ...]:
        """All that bears on one stop, as it stands."""
        rows = tuple(self.rows.get((stop.drive, stop.side), ()))
        return rows, self.held_back.get(stop.name), self.pressing.get(stop.name)

    def add_row(self, drive: str, side: RangeEnd, row: Setting) -> bool:
        """Look at ``row`` as well; whether it is new."""
        known = self.rows.setdefault((drive, side), [])
        if any(np.allclose(row, each, rtol=0, atol=1e-6) for each in known):
            return False
        known.append(row)
        return True


@dataclass(frozen=True, slots=True)
class WaySide:
    """One side of a drive, and what is kept on the ways to it."""

    drive: Drive
    side: RangeEnd
    lattice: Floats
    kept: tuple[Kept, ...]


class KnownWays:
    """What ends the ways of drives: each way is gone once, by tasks of ``tasks``."""

    def __init__(self, mechanism: Mechanism, tasks: EveryResult, corrections: Corrections) -> None:
        self.mechanism, self.tasks, self.corrections = mechanism, tasks, corrections
        self._known: dict[tuple[str, RangeEnd, Setting, Kept], RunOut] = {}
        self._with_margins: dict[tuple[str, RangeEnd, Setting], RunOut] = {}
        """One of those that end a way where margins are kept."""

    def others(self, drive: str, side: RangeEnd, lattice: Floats) -> Floats:
        """The settings (M, d) of the other drives that are looked at for one side of ``drive``."""
        more = self.corrections.rows.get((drive, side), [])
        return np.concatenate([lattice, np.array(more).reshape(-1, lattice.shape[1])])

    def ground(self, drive: Drive, stop: TravelStop, lattice: Floats) -> Ground:
        """What ``stop`` is designed on."""
        ends = self._ways(drive, stop.side, lattice, margins_of(stop))
        return Ground(
            mechanism=self.mechanism,
            column=self._column(drive),
            wanted=_end(drive, stop.side),
            others=self.others(drive.name, stop.side, lattice),
            ends=ends,
            free=self.free(drive, stop.side, lattice),
            held_back=self.corrections.held_back.get(stop.name, 0.0),
            pressing=self.corrections.pressing.get(stop.name, 1.0),
        )

    def free(self, drive: Drive, side: RangeEnd, lattice: Floats) -> tuple[RunOut, ...]:
        """What really touches or runs out first."""
        return self._ways(drive, side, lattice, FREE)

    def way(self, drive: Drive, stop: TravelStop, row: Setting) -> RunOut:
        """What ends the one way of ``stop`` at ``row``, with its margins."""
        kept = margins_of(stop)
        self._go([(drive, stop.side, row, kept)])
        return self._known[drive.name, stop.side, row, kept]

    def go(self, sides: Sequence[WaySide]) -> None:
        """Let all these ways be gone together, so that none has to wait for another."""
        self._go(
            [
                (one.drive, one.side, setting_of(row), kept)
                for one in sides
                for row in self.others(one.drive.name, one.side, one.lattice)
                for kept in one.kept
            ]
        )

    def _column(self, drive: Drive) -> int:
        return list(self.mechanism.machine.drives).index(drive.name)

    def _ways(self, drive: Drive, side: RangeEnd, lattice: Floats, kept: Kept) -> tuple[RunOut, ...]:
        self.go([WaySide(drive, side, lattice, (kept,))])
        rows = self.others(drive.name, side, lattice)
        return tuple(self._known[drive.name, side, setting_of(row), kept] for row in rows)

    def _go(self, wanted: Sequence[tuple[Drive, RangeEnd, Setting, Kept]]) -> None:
        """Go those that were not gone yet: of each drive and side those together of which the same is asked."""
        asked: dict[tuple[str, RangeEnd, Setting], dict[Kept, None]] = {}
        for drive, side, row, kept in wanted:
            if (drive.name, side, row, kept) not in self._known:
                asked.setdefault((drive.name, side, row), {})[kept] = None
        alike: dict[tuple[str, RangeEnd, tuple[Kept, ...], bool], list[Setting]] = {}
        for (name, side, row), every in asked.items():
            alike.setdefault((name, side, tuple(every), (name, side, row) in self._with_margins), []).append(row)
        drives = self.mechanism.machine.drives
        lots = divided(
            [
                WaysAsked(
                    self._column(drives[name]),
                    side,
                    _end(drives[name], side),
                    np.array(rows),
                    every,
                    tuple(self._with_margins[name, side, row] for row in rows) if known else (),
                )
                for (name, side, every, known), rows in alike.items()
            ],
            self.tasks.count,
        )
        names = list(drives)
        for lot, found in zip(lots, self.tasks.of(ways_task, [(lot,) for lot in lots], "go ways"), strict=True):
            for kept, ends in zip(lot.kept, found, strict=True):
                for row, end in zip(lot.others, ends, strict=True):
                    way = names[lot.column], lot.side, setting_of(row)
                    self._known[*way, kept] = end
                    if has_margins(kept):
                        self._with_margins[way] = end


def margins_of(stop: TravelStop) -> Kept:
    """What pairs and joints must keep where ``stop`` acts."""
    return stop.margin.clearance, stop.margin.joints


def _end(drive: Drive, side: RangeEnd) -> float:
    return drive.high if side is RangeEnd.HIGH else drive.low


def other_drives_lattice(ranges: Mapping[str, tuple[float, float]], drive: str) -> Floats:
    """Settings (M, d) of the drives besides ``drive``, over ``ranges``; 0 for ``drive``."""
    count = LOOKED_AT.get(len(ranges) - 1, FEWEST)
    axes = [np.zeros(1) if name == drive else _looked_at(*reach, count) for name, reach in ranges.items()]
    return np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, len(axes))


def _looked_at(low: float, high: float, count: int) -> Floats:
    """``count`` settings from ``low`` to ``high``, and 0, but none beside 0 that is as good as it."""
    even = np.linspace(low, high, count)
    return np.unique(np.append(even[np.abs(even) > AS_GOOD * (high - low)], 0.0))
