"""The stops of a machine, each fitted to what runs out first, and what would touch first in each direction."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from math import isnan

import numpy as np

from assembly.clearance.pairs import gather_pairs
from assembly.clearance.queries import Bench, bench
from assembly.clearance.run_out import RunOut, Ways
from assembly.clearance.stock import Stock, stock_of
from assembly.clearance.stop_blow import Ground
from assembly.clearance.stop_fit import StopDesign, fit_stop
from assembly.errors import Fault, InputError
from assembly.geometry.mesh import Floats
from assembly.model.faults import nearest, shown
from assembly.model.machine import Drive, Machine
from assembly.model.stops import without_stops
from assembly.model.travel_stop import Side, TravelStop
from assembly.motion.assembling import assemble
from assembly.motion.mechanism import Mechanism

LOOKED_AT = {1: 9, 2: 5}
"""Settings looked at of each other drive, by how many others there are; beyond two, ``FEWEST``."""
FEWEST = 3
OVER = 0.25
"""Drive units by which more is looked at than stops are found to leave."""

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
    stock = stock_of(mechanism, gather_pairs(bare, mechanism.bodies).moving)
    with bench(stock.solids, cores) as queries:
        ways = _WaysKnown(mechanism, stock, queries)
        ranges = dict.fromkeys(machine.drives, (0.0, 0.0))
        rough = [_designs(drive, stops, ways, _others(ranges, name)) for name, drive in machine.drives.items()]
        ranges = {name: _reach(drive, own) for (name, drive), own in zip(machine.drives.items(), rough, strict=True)}
        designs: dict[str, StopDesign] = {}
        directions: list[Direction] = []
        for name, drive in machine.drives.items():
            progress("fit stops", len(directions) // 2, len(machine.drives))
            others = _others(ranges, name)
            own = _designs(drive, stops, ways, others)
            ranges[name] = _reach(drive, own)
            designs |= own
            for side in Side:
                declared = tuple(stop.name for stop in stops.values() if (stop.drive, stop.side) == (name, side))
                directions.append(Direction(name, side, others, ways.free(drive, side, others), declared))
    ordered = {name: designs[name] for name in stops}
    return StopsDesigned(replace(machine, stops=stops), mechanism, ordered, tuple(directions))


def _reach(drive: Drive, designs: Mapping[str, StopDesign]) -> tuple[float, float]:
    """How far a drive goes: over the file's range, or to its stops and on while they give way."""
    reach = {Side.LOW: drive.low, Side.HIGH: drive.high}
    for design in designs.values():
        acts = [way.acts for way in design.ways if not isnan(way.acts)]
        if acts and design.stop.ahead_of is None:
            over = design.stop.margin.play + design.yields.give + OVER
            reach[design.stop.side] = max(acts, key=abs) + design.stop.side.sign * over
    return reach[Side.LOW], reach[Side.HIGH]


def _designs(drive: Drive, stops: Mapping[str, TravelStop], ways: _WaysKnown, others: Floats) -> dict[str, StopDesign]:
    """The designs of the stops of one drive, hard ones before those that come ahead of them."""
    found: dict[str, StopDesign] = {}

    def fit(stop: TravelStop) -> StopDesign:
        hard = found.get(stop.ahead_of.stop) if stop.ahead_of else None
        return fit_stop(stop, ways.ground(drive, stop, others), hard)

    own = [stop for stop in stops.values() if stop.drive == drive.name]
    for stop in sorted(own, key=lambda one: one.ahead_of is not None):
        found[stop.name] = fit(stop)
        twin = found.get(stop.twin_of)
        if twin and twin.to_make != found[stop.name].to_make:
            found |= _evened(twin, found[stop.name], fit)
    return found


def _evened(one: StopDesign, twin: StopDesign, fit: Callable[[TravelStop], StopDesign]) -> dict[str, StopDesign]:
    """A stop and its twin with the larger of their heights: the file holds one for both."""
    if not (one.to_make and twin.to_make):
        return {}
    height, most = max(one.to_make, twin.to_make), max(one.recommended or 0.0, twin.recommended or 0.0)
    both = (replace(fit(replace(each.stop, height=height)), recommended=most) for each in (one, twin))
    return {each.stop.name: replace(each, stop=replace(each.stop, height=None)) for each in both}


class _WaysKnown:
    """What ends the ways of drives; ways that several stops share are gone once."""

    def __init__(self, mechanism: Mechanism, stock: Stock, queries: Bench) -> None:
        self.mechanism, self.stock, self.queries = mechanism, stock, queries
        self._known: dict[tuple[object, ...], tuple[RunOut, ...]] = {}

    def ground(self, drive: Drive, stop: TravelStop, others: Floats) -> Ground:
        """What ``stop`` is designed on."""
        wanted = drive.high if stop.side is Side.HIGH else drive.low
        ends = self._ways(drive, stop.side, others, stop.margin.clearance, stop.margin.joints)
        column = list(self.mechanism.machine.drives).index(drive.name)
        return Ground(self.mechanism, column, wanted, others, ends, self.free(drive, stop.side, others))

    def free(self, drive: Drive, side: Side, others: Floats) -> tuple[RunOut, ...]:
        """What really touches or runs out first."""
        return self._ways(drive, side, others, None, 0.0)

    def _ways(
        self, drive: Drive, side: Side, others: Floats, clearance: float | None, reserve: float
    ) -> tuple[RunOut, ...]:
        key = drive.name, side, others.tobytes(), clearance, reserve
        if key not in self._known:
            own = self.mechanism.machine.drives[drive.name]
            ways = Ways(self.mechanism, self.stock, self.queries, clearance, reserve)
            column = list(self.mechanism.machine.drives).index(drive.name)
            self._known[key] = tuple(ways.run_out(column, own.high if side is Side.HIGH else own.low, others))
        return self._known[key]


def _others(ranges: Mapping[str, tuple[float, float]], drive: str) -> Floats:
    """Settings (M, d) of the drives besides ``drive``, over ``ranges``; 0 for ``drive``."""
    count = LOOKED_AT.get(len(ranges) - 1, FEWEST)
    axes = [
        np.zeros(1) if name == drive else np.unique(np.append(np.linspace(*reach, count), 0.0))
        for name, reach in ranges.items()
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
