"""The stops of a machine, each fitted to what runs out first, and what would touch first in each direction."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import Executor
from contextlib import contextmanager
from dataclasses import dataclass, replace
from math import isnan

import numpy as np

from assembly.clearance.narrow_phase.checked_pairs import gather_pairs
from assembly.clearance.narrow_phase.pair_result import Effort, Setting
from assembly.clearance.narrow_phase.queries import bench
from assembly.clearance.proof.blocked_roll import lost_rolls, why_unsettled
from assembly.clearance.proof.solid_table import stock_of
from assembly.clearance.proof.some_roll import with_swept_rolls
from assembly.clearance.region.run_out import Cause
from assembly.clearance.stops.stop_contact import StruckProof
from assembly.clearance.stops.stop_fit import StopDesign, fit_stop
from assembly.clearance.stops.stop_proof import StopProof, prove_stops, struck_proofs, unproven
from assembly.clearance.stops.stop_ways import Corrections, KnownWays, other_drives_lattice
from assembly.errors import Fault, InputError
from assembly.geometry.mesh import Floats
from assembly.kinematics.assembling import assemble
from assembly.model.fault_list import nearest, shown
from assembly.model.machine import Drive, Machine
from assembly.model.stop_solids import without_stops
from assembly.model.travel_stop import RangeEnd, TravelStop
from assembly.progress import Progress
from assembly.record import StopsRecord
from assembly.studies.stops.designed import DriveDirection, StopsDesigned
from assembly.studies.stops.stop_record import stops_record

MOST_ROUNDS, MOST_SWEEPS = 24, 6
"""Corrections of where stops are struck, and sweeps."""
MOST_PRESSING = 16.0
"""Times as far as at first that a stop is pressed at most, to show that it is struck."""
NEARLY = 0.002
"""Share of a drive's range: a way that ends no more than this behind a failing setting has to do with it."""
ROUNDED = 0.01
"""Drive units: proven ranges end at full hundredths."""
OVER = 0.25
"""Drive units by which more is looked at than stops are found to leave."""


@dataclass(frozen=True, slots=True, eq=False)
class StopsSettled:
    """A design and its proof, None if a stop is none, and their record."""

    designed: StopsDesigned
    proof: StopProof | None
    record: StopsRecord


def designed_stops(
    machine: Machine, progress: Progress, cores: int = 1, heights: Mapping[str, float] | None = None
) -> StopsDesigned:
    """Design every stop of ``machine`` once, unproven. ``heights`` (mm by name) go before those of the file.

    Raises InputError for a height of no stop, AssemblyError if the machine cannot be put together.
    """
    with _designer(machine, progress, cores, heights) as designer:
        return designer.designed()


def settle_stops(
    machine: Machine,
    effort: Effort,
    progress: Progress,
    heights: Mapping[str, float] | None = None,
    executor: Executor | None = None,
) -> StopsSettled:
    """Design every stop of ``machine``, prove the design, and correct it until the proof holds or nothing helps.

    Where a proof fails, the setting that shows it is looked at as well, and the stop that it costs least is made to act
    before. Arguments and errors as for ``designed_stops``.
    """
    machine, chosen = with_swept_rolls(machine, effort.cores, progress)
    with _designer(machine, progress, effort.cores, heights) as designer:
        lost = lost_rolls(designer.ways.mechanism, chosen)
        why_lost = {name: why_unsettled([name], lost) for name in lost}
        rounds = sweeps = 0
        while True:
            designed = replace(designer.designed(), lost=why_lost)
            if any(design.faults for design in designed.designs.values()):
                return _settled(designed, None)
            struck = struck_proofs(designed.machine, designed.designs)
            if rounds < MOST_ROUNDS and designer.struck_corrected(designed, struck):
                rounds += 1
                continue
            proof = prove_stops(designed.machine, designed.designs, effort, progress, executor, struck, chosen)
            sweeps += 1
            left = [] if proof is None else [setting for setting in unproven(proof) if setting]
            if not left:
                return _settled(designed, proof)
            why = f"{sweeps} designs were tried" if sweeps == MOST_SWEEPS else designer.corrected(designed, left[0])
            if why:
                free = any(design.stop.height is None for design in designed.designs.values())
                return _settled(designed, proof, why if free else "")


def _settled(designed: StopsDesigned, proof: StopProof | None, why_none: str = "") -> StopsSettled:
    return StopsSettled(designed, proof, stops_record(designed, proof, why_none))


@contextmanager
def _designer(
    machine: Machine, progress: Progress, cores: int, heights: Mapping[str, float] | None
) -> Iterator[_Designer]:
    stops = _with_heights(machine, heights or {})
    bare = without_stops(machine).widened
    progress("assemble", 0, 0)
    mechanism = assemble(bare)
    solid_table = stock_of(mechanism, gather_pairs(bare, mechanism.bodies).moving)
    with bench(solid_table.solids, cores) as queries:
        ways = KnownWays(mechanism, solid_table, queries, Corrections())
        yield _Designer(replace(machine, stops=stops), ways, progress)


class _Designer:
    """Fits the stops of ``machine`` to ``ways``, as often as these are corrected."""

    def __init__(self, machine: Machine, ways: KnownWays, progress: Progress) -> None:
        self.machine, self.ways, self.progress = machine, ways, progress
        self._fitted: dict[tuple[object, ...], StopDesign] = {}

    def designed(self) -> StopsDesigned:
        """All stops, the drives in the order of the file, each with what the stops of those before it leave."""
        machine, stops, ways = self.machine, self.machine.stops, self.ways
        ranges = dict.fromkeys(machine.drives, (0.0, 0.0))
        rough = [self._designs(drive, other_drives_lattice(ranges, name)) for name, drive in machine.drives.items()]
        ranges = {name: _reach(drive, own) for (name, drive), own in zip(machine.drives.items(), rough, strict=True)}
        designs: dict[str, StopDesign] = {}
        directions: list[DriveDirection] = []
        for name, drive in machine.drives.items():
            self.progress("fit stops", len(directions) // 2, len(machine.drives))
            lattice = other_drives_lattice(ranges, name)
            own = self._designs(drive, lattice)
            ranges[name] = _reach(drive, own)
            designs |= own
            for side in RangeEnd:
                declared = tuple(stop.name for stop in stops.values() if (stop.drive, stop.side) == (name, side))
                others = ways.others(name, side, lattice)
                directions.append(DriveDirection(name, side, others, ways.free(drive, side, lattice), declared))
        ordered = {name: designs[name] for name in stops}
        return StopsDesigned(machine, ways.mechanism, ordered, tuple(directions))

    def _designs(self, drive: Drive, lattice: Floats) -> dict[str, StopDesign]:
        """The designs of the stops of one drive, hard ones before those that come ahead of them."""
        found: dict[str, StopDesign] = {}

        def fit(stop: TravelStop) -> StopDesign:
            hard = found.get(stop.ahead_of.stop) if stop.ahead_of else None
            return self._fit(drive, stop, lattice, hard)

        own = [stop for stop in self.machine.stops.values() if stop.drive == drive.name]
        for stop in sorted(own, key=lambda one: one.ahead_of is not None):
            found[stop.name] = fit(stop)
            twin = found.get(stop.twin_of)
            if twin and twin.to_make != found[stop.name].to_make:
                found |= _evened(twin, found[stop.name], fit)
        return found

    def _fit(self, drive: Drive, stop: TravelStop, lattice: Floats, hard: StopDesign | None) -> StopDesign:
        """As ``fit_stop``; what was fitted in another round to the same is known."""
        key = stop, lattice.tobytes(), hard and hard.height, self.ways.corrections.about(stop)
        if key not in self._fitted:
            self._fitted[key] = fit_stop(stop, self.ways.ground(drive, stop, lattice), hard)
        return self._fitted[key]

    def struck_corrected(self, designed: StopsDesigned, struck: Mapping[str, StruckProof]) -> bool:
        """Look also where a stop was not shown to be struck, or press it harder there; whether anything is new."""
        corrections, drives, new = self.ways.corrections, list(self.machine.drives), False
        for name, proof in struck.items():
            if proof.gap is None:
                continue
            stop = designed.designs[name].stop
            pressing = corrections.pressing.get(name, 1.0)
            if corrections.add_row(stop.drive, stop.side, _without(proof.gap, drives.index(stop.drive))):
                new = True
            elif not proof.missed and pressing < MOST_PRESSING:
                corrections.pressing[name] = 2 * pressing
                new = True
        return new

    def corrected(self, designed: StopsDesigned, at: Setting) -> str:
        """Make the stop that it costs least of its range act before ``at``; why none can, nothing if one does."""
        drives, least = list(self.machine.drives.values()), (np.inf, "")
        for name, design in designed.designs.items():
            stop, column = design.stop, list(self.machine.drives).index(design.stop.drive)
            drive, value = drives[column], at[column] * design.stop.side.sign
            if stop.height is not None or stop.ahead_of is not None or value <= 0:
                continue
            end = self.ways.way(drive, stop, _without(at, column))
            cost = (value - abs(end.at[column])) / max(drive.high - drive.low, 1e-9)
            if end.cause is not Cause.END and cost > -NEARLY:
                least = min(least, (cost, name))
        if not least[1]:
            return "none of the stops whose height is free acts there, or helps by acting sooner"
        stop, lost = designed.designs[least[1]].stop, designed.designs[least[1]].yields
        corrections, column = self.ways.corrections, list(self.machine.drives).index(stop.drive)
        corrections.add_row(stop.drive, stop.side, _without(at, column))
        before = corrections.held_back.get(stop.name, 0.0)
        corrections.held_back[stop.name] = max(2 * before, lost.pressed - lost.unsure + ROUNDED)
        return ""


def _without(setting: Setting, column: int) -> Setting:
    return tuple(0.0 if number == column else value for number, value in enumerate(setting))


def _reach(drive: Drive, designs: Mapping[str, StopDesign]) -> tuple[float, float]:
    """How far a drive goes: over the file's range, or to its stops and on while they give way."""
    reach = {RangeEnd.LOW: drive.low, RangeEnd.HIGH: drive.high}
    for design in designs.values():
        acts = [way.acts for way in design.ways if not isnan(way.acts)]
        if acts and design.stop.ahead_of is None:
            over = design.stop.margin.play + design.yields.give + OVER
            reach[design.stop.side] = max(acts, key=abs) + design.stop.side.sign * over
    return reach[RangeEnd.LOW], reach[RangeEnd.HIGH]


def _evened(one: StopDesign, twin: StopDesign, fit: Callable[[TravelStop], StopDesign]) -> dict[str, StopDesign]:
    """A stop and its twin with the larger of their heights: the file holds one for both."""
    if not (one.to_make and twin.to_make):
        return {}
    height, most = max(one.to_make, twin.to_make), max(one.recommended or 0.0, twin.recommended or 0.0)
    both = (replace(fit(replace(each.stop, height=height)), recommended=most) for each in (one, twin))
    return {each.stop.name: replace(each, stop=replace(each.stop, height=None)) for each in both}


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
