"""The stops of a machine, each fitted to what runs out first, and what would touch first in each direction."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from assembly.clearance.pairs import gather_pairs
from assembly.clearance.queries import Bench, bench
from assembly.clearance.run_out import RunOut, Ways, moving_pairs
from assembly.clearance.stock import Stock
from assembly.clearance.stop_fit import Ground, StopDesign, fit_stop
from assembly.errors import Fault, InputError
from assembly.geometry.mesh import Floats
from assembly.model.faults import nearest, shown
from assembly.model.machine import Machine
from assembly.model.stops import without_stops
from assembly.model.travel_stop import Side, TravelStop
from assembly.motion.assembling import assemble
from assembly.motion.mechanism import Mechanism

LOOKED_AT = {1: 9, 2: 5}
"""Settings looked at of each other drive, by how many others there are; beyond two, ``FEWEST``."""
FEWEST = 3

Progress = Callable[[str, int, int], None]
"""Called with the stage, how many are done and how many there are."""


@dataclass(frozen=True, slots=True, eq=False)
class Direction:
    """One direction of one drive: what ends each way without any stop, and the stops declared for it, by name.

    ``others`` (M, d): the settings of the other drives, one for each way.
    """

    drive: str
    side: Side
    others: Floats
    free: tuple[RunOut, ...]
    stops: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class StopsDesigned:
    """All stops of ``machine`` by name, and all directions of its drives; ``mechanism`` is without the stops."""

    machine: Machine
    mechanism: Mechanism
    designs: Mapping[str, StopDesign]
    directions: tuple[Direction, ...]


def design_stops(
    machine: Machine, progress: Progress, cores: int = 1, heights: Mapping[str, float] | None = None
) -> StopsDesigned:
    """Design every stop of ``machine``. ``heights`` (mm by name) go before those of the file.

    Raises InputError for a height of no stop, AssemblyError where the machine cannot be put together.
    """
    stops = _with_heights(machine, heights or {})
    bare = without_stops(machine).widened
    progress("assemble", 0, 0)
    mechanism = assemble(bare)
    stock = Stock(mechanism, moving_pairs(gather_pairs(bare, mechanism.bodies)))
    with bench(stock.solids, cores) as queries:
        grounds = _Grounds(machine, mechanism, stock, queries)
        directions: list[Direction] = []
        for drive in machine.drives:
            for side in Side:
                progress("first to touch", len(directions), 2 * len(machine.drives))
                own = tuple(name for name, stop in stops.items() if (stop.drive, stop.side) == (drive, side))
                free = grounds.ways(drive, side, None, 0.0)
                directions.append(Direction(drive, side, grounds.others[drive], free, own))
        designs = _Designs(stops, grounds, progress)
    return StopsDesigned(replace(machine, stops=stops), mechanism, designs.of, tuple(directions))


class _Designs:
    """The designs of all stops; ``of`` gives them by name, in the order of the file."""

    def __init__(self, stops: Mapping[str, TravelStop], grounds: _Grounds, progress: Progress) -> None:
        self.stops, self.grounds = stops, grounds
        found: dict[str, StopDesign] = {}
        for name, stop in sorted(stops.items(), key=lambda item: item[1].ahead_of is not None):
            progress("fit stops", len(found), len(stops))
            found[name] = self._fit(stop, found)
        self.of = {name: found[name] for name in stops}
        for name, stop in stops.items():
            if stop.twin_of in self.of:
                self._even(self.of[stop.twin_of], self.of[name])

    def _fit(self, stop: TravelStop, known: Mapping[str, StopDesign]) -> StopDesign:
        return fit_stop(stop, self.grounds.of(stop, known.get(stop.ahead_of.stop) if stop.ahead_of else None))

    def _even(self, one: StopDesign, twin: StopDesign) -> None:
        """Give both of a stop and its twin the larger of their heights: the file holds one for both."""
        if one.to_make and twin.to_make and one.to_make != twin.to_make:
            height = max(one.to_make, twin.to_make)
            for design in (one, twin):
                fitted = self._fit(replace(design.stop, height=height), self.of)
                self.of[design.stop.name] = replace(
                    fitted, recommended=max(one.recommended or 0, twin.recommended or 0)
                )


class _Grounds:
    """What stops are designed on; ways that several stops share are gone once."""

    def __init__(self, machine: Machine, mechanism: Mechanism, stock: Stock, queries: Bench) -> None:
        self.mechanism, self.stock, self.queries = mechanism, stock, queries
        self.others = {drive: _others(machine, drive) for drive in machine.drives}
        self._known: dict[tuple[str, Side, float | None, float], tuple[RunOut, ...]] = {}

    def of(self, stop: TravelStop, hard: StopDesign | None) -> Ground:
        ends = self.ways(stop.drive, stop.side, stop.margin.clearance, stop.margin.joints)
        free = self.ways(stop.drive, stop.side, None, 0.0)
        column = list(self.mechanism.machine.drives).index(stop.drive)
        return Ground(self.mechanism, column, self.others[stop.drive], ends, free, hard)

    def ways(self, drive: str, side: Side, clearance: float | None, reserve: float) -> tuple[RunOut, ...]:
        key = drive, side, clearance, reserve
        if key not in self._known:
            own = self.mechanism.machine.drives[drive]
            ways = Ways(self.mechanism, self.stock, self.queries, clearance, reserve)
            column = list(self.mechanism.machine.drives).index(drive)
            end = own.high if side is Side.HIGH else own.low
            self._known[key] = tuple(ways.run_out(column, end, self.others[drive]))
        return self._known[key]


def _others(machine: Machine, drive: str) -> Floats:
    """Settings (M, d) of the drives besides ``drive``, over the ranges that the file gives them; 0 for ``drive``."""
    count = LOOKED_AT.get(len(machine.drives) - 1, FEWEST)
    axes = [
        np.zeros(1) if name == drive else np.unique(np.append(np.linspace(own.low, own.high, count), 0.0))
        for name, own in machine.drives.items()
    ]
    return np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, len(axes))


def _with_heights(machine: Machine, heights: Mapping[str, float]) -> dict[str, TravelStop]:
    faults = [
        Fault(f"there is no stop {shown(name)}", hint=nearest(name, machine.stops, "stops"))
        for name in heights
        if name not in machine.stops
    ]
    faults += [
        Fault(f"a height of {height:g} mm for {shown(name)}", hint="give more than 0 mm")
        for name, height in heights.items()
        if not 0 < height < np.inf
    ]
    if faults:
        raise InputError(*faults)
    return {name: replace(stop, height=heights.get(name, stop.height)) for name, stop in machine.stops.items()}
