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
from assembly.clearance.stops.known_ends import RecalledEnds, WayAsked
from assembly.clearance.stops.stop_blow import Ground
from assembly.geometry.mesh import Floats
from assembly.kinematics.array_stacks import crossings_within
from assembly.kinematics.mechanism import Mechanism
from assembly.model.machine import Drive
from assembly.model.travel_stop import RangeEnd, TravelStop
from assembly.parallel.every_result import EveryResult

LOOKED_AT = {1: 9, 2: 5}
"""Settings looked at of each other drive, by how many others there are; beyond two, ``FEWEST``."""
FEWEST = 3
MOST_SETTINGS = 10_000
"""Where the other drives' settings with one another are more, those of each two are looked at."""
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
    """What ends the ways of drives: each way is gone once, by tasks of ``tasks``, where it is not ``recalled``."""

    def __init__(
        self, mechanism: Mechanism, tasks: EveryResult, corrections: Corrections, recalled: RecalledEnds | None = None
    ) -> None:
        self.mechanism, self.tasks, self.corrections = mechanism, tasks, corrections
        self._recalled = recalled
        self._known: dict[WayAsked, RunOut] = {}
        self._with_margins: dict[tuple[int, float, Setting], RunOut] = {}
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
        way = WayAsked(self._column(drive), self._far_end(drive, stop.side), row, margins_of(stop))
        self._go([way])
        return self._known[way]

    def go(self, sides: Sequence[WaySide]) -> None:
        """Let all these ways be gone together, so that none has to wait for another."""
        self._go(
            [way for one in sides for kept in one.kept for way in self._of(one.drive, one.side, one.lattice, kept)]
        )

    def _column(self, drive: Drive) -> int:
        return list(self.mechanism.machine.drives).index(drive.name)

    def _far_end(self, drive: Drive, side: RangeEnd) -> float:
        """How far ways go: farther than the range that the file asks of ``drive``."""
        return _end(self.mechanism.machine.drives[drive.name], side)

    def _of(self, drive: Drive, side: RangeEnd, lattice: Floats, kept: Kept) -> list[WayAsked]:
        rows = self.others(drive.name, side, lattice)
        column, end = self._column(drive), self._far_end(drive, side)
        return [WayAsked(column, end, setting_of(row), kept) for row in rows]

    def _ways(self, drive: Drive, side: RangeEnd, lattice: Floats, kept: Kept) -> tuple[RunOut, ...]:
        ways = self._of(drive, side, lattice, kept)
        self._go(ways)
        return tuple(self._known[way] for way in ways)

    def _go(self, wanted: Sequence[WayAsked]) -> None:
        """Go those that are not known yet."""
        new = [way for way in dict.fromkeys(wanted) if way not in self._known]
        if self._recalled is not None and new:
            self._note(self._recalled.known(new))
            new = [way for way in new if way not in self._known]
        lots = divided(self._asked(new), self.tasks.count)
        for lot, every in zip(lots, self.tasks.of(ways_task, [(lot,) for lot in lots], "go ways"), strict=True):
            found = {
                WayAsked(one.column, one.end, row, kept): end
                for one, of_kept in zip(lot, every, strict=True)
                for kept, ends in zip(one.kept, of_kept, strict=True)
                for row, end in zip(map(setting_of, one.others), ends, strict=True)
            }
            self._note(found)
            if self._recalled is not None:
                self._recalled.keep(found)

    def _note(self, found: Mapping[WayAsked, RunOut]) -> None:
        self._known |= found
        for way, end in found.items():
            if has_margins(way.kept):
                self._with_margins[way.column, way.end, way.row] = end

    def _asked(self, ways: Sequence[WayAsked]) -> list[WaysAsked]:
        """The ways of each drive and side of which the same is asked, and known, together."""
        asked: dict[tuple[int, float, Setting], list[Kept]] = {}
        for way in ways:
            asked.setdefault((way.column, way.end, way.row), []).append(way.kept)
        alike: dict[tuple[int, float, tuple[Kept, ...], bool], list[Setting]] = {}
        for (column, end, row), kept in asked.items():
            known = (column, end, row) in self._with_margins
            alike.setdefault((column, end, tuple(kept), known), []).append(row)
        return [
            WaysAsked(
                column,
                end,
                np.array(rows),
                kept,
                tuple(self._with_margins[column, end, row] for row in rows) if known else (),
            )
            for (column, end, kept, known), rows in alike.items()
        ]


def margins_of(stop: TravelStop) -> Kept:
    """What pairs and joints must keep where ``stop`` acts."""
    return stop.margin.clearance, stop.margin.joints


def _end(drive: Drive, side: RangeEnd) -> float:
    return drive.high if side is RangeEnd.HIGH else drive.low


def other_drives_lattice(ranges: Mapping[str, tuple[float, float]], drive: str) -> Floats:
    """Settings (M, d) of the drives besides ``drive``, over ``ranges``; 0 for ``drive``."""
    count = LOOKED_AT.get(len(ranges) - 1, FEWEST)
    axes = [np.zeros(1) if name == drive else _looked_at(*reach, count) for name, reach in ranges.items()]
    return crossings_within(axes, MOST_SETTINGS)


def _looked_at(low: float, high: float, count: int) -> Floats:
    """``count`` settings from ``low`` to ``high``, and 0, but none beside 0 that is as good as it."""
    even = np.linspace(low, high, count)
    return np.unique(np.append(even[np.abs(even) > AS_GOOD * (high - low)], 0.0))
