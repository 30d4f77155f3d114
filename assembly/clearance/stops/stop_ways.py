"""The ways that stops are fitted to, gone once however many stops and rounds ask for them, and what a proof adds.

A design looks at a lattice of settings of the other drives. Where its proof fails, the setting that shows it is looked
at as well, and the stop is fitted anew.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from assembly.clearance.narrow_phase.pair_result import Setting
from assembly.clearance.narrow_phase.queries import Bench
from assembly.clearance.proof.solid_table import SolidTable
from assembly.clearance.region.run_out import RunOut
from assembly.clearance.region.ways import Ways
from assembly.clearance.stops.stop_blow import Ground
from assembly.geometry.mesh import Floats
from assembly.kinematics.mechanism import Mechanism
from assembly.model.machine import Drive
from assembly.model.travel_stop import RangeEnd, TravelStop

LOOKED_AT = {1: 9, 2: 5}
"""Settings looked at of each other drive, by how many others there are; beyond two, ``FEWEST``."""
FEWEST = 3
AS_GOOD = 1e-3
"""Share of a range; settings nearer to 0 need not be looked at besides."""

Kept = tuple[float | None, float]
"""What pairs and joints must keep: mm, None for not to touch, and mm or degrees."""
FREE: Kept = None, 0.0
"""No margins."""


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


class KnownWays:
    """What ends the ways of drives."""

    def __init__(self, mechanism: Mechanism, solid_table: SolidTable, queries: Bench, corrections: Corrections) -> None:
        self.mechanism, self.solid_table, self.queries, self.corrections = mechanism, solid_table, queries, corrections
        self._known: dict[tuple[str, RangeEnd, bytes, Kept], tuple[RunOut, ...]] = {}

    def others(self, drive: str, side: RangeEnd, lattice: Floats) -> Floats:
        """The settings (M, d) of the other drives that are looked at for one side of ``drive``."""
        more = self.corrections.rows.get((drive, side), [])
        return np.concatenate([lattice, np.array(more).reshape(-1, lattice.shape[1])])

    def ground(self, drive: Drive, stop: TravelStop, lattice: Floats) -> Ground:
        """What ``stop`` is designed on."""
        wanted = drive.high if stop.side is RangeEnd.HIGH else drive.low
        ends = self._ways(drive, stop.side, lattice, (stop.margin.clearance, stop.margin.joints))
        return Ground(
            mechanism=self.mechanism,
            column=list(self.mechanism.machine.drives).index(drive.name),
            wanted=wanted,
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
        return self._gone(drive, stop.side, np.array([row]), (stop.margin.clearance, stop.margin.joints))[0]

    def _ways(self, drive: Drive, side: RangeEnd, lattice: Floats, kept: Kept) -> tuple[RunOut, ...]:
        """Those of the lattice together, then the others one by one: only whole lattices can be looked at at once."""
        found = self._gone(drive, side, lattice, kept)
        for row in self.corrections.rows.get((drive.name, side), []):
            found += self._gone(drive, side, np.array([row]), kept)
        return found

    def _gone(self, drive: Drive, side: RangeEnd, lattice: Floats, kept: Kept) -> tuple[RunOut, ...]:
        key = drive.name, side, lattice.tobytes(), kept
        if key not in self._known:
            own = self.mechanism.machine.drives[drive.name]
            ways = Ways(self.mechanism, self.solid_table, self.queries, *kept)
            column = list(self.mechanism.machine.drives).index(drive.name)
            end = own.high if side is RangeEnd.HIGH else own.low
            self._known[key] = tuple(ways.run_out(column, end, lattice, self._sooner(key[:3], kept)))
        return self._known[key]

    def _sooner(self, way: tuple[object, ...], kept: Kept) -> tuple[RunOut, ...] | None:
        """What ends the same ways where margins are kept, if known, for ways that keep none."""
        if kept != FREE:
            return None
        more = (key for key in self._known if key[:3] == way and key[3][0] is not None and key[3][1] >= 0)
        return next((self._known[key] for key in more), None)


def other_drives_lattice(ranges: Mapping[str, tuple[float, float]], drive: str) -> Floats:
    """Settings (M, d) of the drives besides ``drive``, over ``ranges``; 0 for ``drive``."""
    count = LOOKED_AT.get(len(ranges) - 1, FEWEST)
    axes = [np.zeros(1) if name == drive else _looked_at(*reach, count) for name, reach in ranges.items()]
    return np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, len(axes))


def _looked_at(low: float, high: float, count: int) -> Floats:
    """``count`` settings from ``low`` to ``high``, and 0, but none beside 0 that is as good as it."""
    even = np.linspace(low, high, count)
    return np.unique(np.append(even[np.abs(even) > AS_GOOD * (high - low)], 0.0))
