"""The stops of a machine, each fitted to what runs out first, and what would touch first in each direction."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import BrokenExecutor, Executor
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, replace
from math import isnan

import numpy as np

from assembly.clearance.narrow_phase.checked_pairs import gather_pairs
from assembly.clearance.narrow_phase.pair_result import Effort, Setting
from assembly.clearance.proof.blocked_roll import lost_rolls, why_unsettled
from assembly.clearance.proof.solid_table import stock_of
from assembly.clearance.proof.some_roll import with_swept_rolls
from assembly.clearance.proof.task_groups import worth_workers
from assembly.clearance.region.run_out import Cause
from assembly.clearance.stops.design_tasks import FREE, DesignContext, fit_asked, fit_task
from assembly.clearance.stops.known_ends import EndsCache, RecalledEnds, StopsCache, WayKeys
from assembly.clearance.stops.stop_contact import StruckProof
from assembly.clearance.stops.stop_fit import StopDesign
from assembly.clearance.stops.stop_proof import StopProof, prove_stops, struck_proofs, unproven
from assembly.clearance.stops.stop_ways import (
    Corrections,
    KnownWays,
    WaySide,
    margins_of,
    other_drives_lattice,
)
from assembly.errors import CutShortError, Fault, InputError
from assembly.geometry.mesh import Floats
from assembly.kinematics.assembling import assemble
from assembly.model.fault_list import nearest, shown
from assembly.model.machine import Drive, Machine
from assembly.model.stop_solids import without_stops
from assembly.model.travel_stop import RangeEnd, TravelStop
from assembly.parallel.every_result import LOST, EveryResult
from assembly.parallel.workers import workers, works_elsewhere
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


def settle_stops(
    machine: Machine,
    effort: Effort,
    progress: Progress,
    heights: Mapping[str, float] | None = None,
    executor: Executor | None = None,
    memory: StopsCache | None = None,
) -> StopsSettled:
    """Design every stop of ``machine``, prove the design, and correct it until the proof holds or nothing helps.

    Where a proof fails, the setting that shows it is looked at as well, and the stop that it costs least is made to act
    before. ``heights`` (mm by name) go before those of the file. What ``memory`` knows of ways and of pairs is not
    searched again, and what is found is kept in it.

    Raises InputError for a height of no stop, AssemblyError if the machine cannot be put together.
    """
    machine, chosen = with_swept_rolls(machine, effort.cores, progress)
    with _designer(machine, progress, effort.cores, heights, executor, memory) as designer:
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
            proof = prove_stops(designed.machine, designed.designs, effort, progress, executor, struck, chosen, memory)
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
    machine: Machine,
    progress: Progress,
    cores: int,
    heights: Mapping[str, float] | None,
    executor: Executor | None = None,
    memory: EndsCache | None = None,
) -> Iterator[_Designer]:
    stops = _with_heights(machine, heights or {})
    bare = without_stops(machine).widened
    progress("assemble", 0, 0)
    mechanism = assemble(bare)
    pairs = gather_pairs(bare, mechanism.bodies).moving
    context = DesignContext(mechanism, stock_of(mechanism, pairs))
    alone = executor is None and (cores == 1 or not worth_workers(mechanism, pairs.checked)) and not works_elsewhere()
    with nullcontext() if alone else workers(cores, executor) as hands:
        tasks = EveryResult(context, hands, progress)
        recalled = None if memory is None else RecalledEnds(WayKeys(mechanism, pairs), memory)
        try:
            yield _Designer(replace(machine, stops=stops), KnownWays(mechanism, tasks, Corrections(), recalled), tasks)
        except BrokenExecutor as error:
            hint = "try again with fewer processes: --cores 1"
            raise CutShortError(Fault(f"{LOST}; there is no design of the stops", hint=hint)) from error


class _Designer:
    """Fits the stops of ``machine`` to ``ways``, as often as these are corrected."""

    def __init__(self, machine: Machine, ways: KnownWays, tasks: EveryResult) -> None:
        self.machine, self.ways, self._tasks = machine, ways, tasks
        self._fitted: dict[tuple[object, ...], StopDesign] = {}

    def designed(self) -> StopsDesigned:
        """All stops, the drives in the order of the file, each with what the stops of those before it leave."""
        machine, stops, ways = self.machine, self.machine.stops, self.ways
        ranges = dict.fromkeys(machine.drives, (0.0, 0.0))
        rough = self._designs({name: other_drives_lattice(ranges, name) for name in machine.drives})
        ranges = {name: _reach(drive, _of_drive(rough, name)) for name, drive in machine.drives.items()}
        designs: dict[str, StopDesign] = {}
        directions: list[DriveDirection] = []
        for name, drive in machine.drives.items():
            lattice = other_drives_lattice(ranges, name)
            own = self._designs({name: lattice})
            ranges[name] = _reach(drive, own)
            designs |= own
            for side in RangeEnd:
                declared = tuple(stop.name for stop in stops.values() if (stop.drive, stop.side) == (name, side))
                others = ways.others(name, side, lattice)
                directions.append(DriveDirection(name, side, others, ways.free(drive, side, lattice), declared))
        ordered = {name: designs[name] for name in stops}
        return StopsDesigned(machine, ways.mechanism, ordered, tuple(directions))

    def _designs(self, lattices: Mapping[str, Floats]) -> dict[str, StopDesign]:
        """The designs of the stops of some drives, each with its lattice; hard ones before those ahead of them."""
        self.ways.go([self._side(name, side, lattice) for name, lattice in lattices.items() for side in RangeEnd])
        found: dict[str, StopDesign] = {}
        own = [stop for name in lattices for stop in self.machine.stops.values() if stop.drive == name]
        for ahead in (False, True):
            some = [stop for stop in own if (stop.ahead_of is not None) is ahead]
            found |= self._fit(some, lattices, found)
            uneven = [_evened(found, stop) for stop in some]
            again = self._fit([each for pair in uneven for each, _ in pair], lattices, found)
            most = {each.name: most for pair in uneven for each, most in pair}
            found |= {
                name: replace(design, recommended=most[name], stop=replace(design.stop, height=None))
                for name, design in again.items()
            }
        return found

    def _side(self, drive: str, side: RangeEnd, lattice: Floats) -> WaySide:
        own = [stop for stop in self.machine.stops.values() if (stop.drive, stop.side) == (drive, side)]
        return WaySide(self.machine.drives[drive], side, lattice, (*dict.fromkeys(map(margins_of, own)), FREE))

    def _fit(
        self, stops: Sequence[TravelStop], lattices: Mapping[str, Floats], found: Mapping[str, StopDesign]
    ) -> dict[str, StopDesign]:
        """As ``fit_stop``, by name; what was fitted in another round to the same is known."""
        hard = {stop.name: found.get(stop.ahead_of.stop) if stop.ahead_of else None for stop in stops}
        keys = {stop.name: self._key(stop, lattices[stop.drive], hard[stop.name]) for stop in stops}
        new = [stop for stop in stops if keys[stop.name] not in self._fitted]
        asked = [
            fit_asked(
                stop,
                self.ways.ground(self.machine.drives[stop.drive], stop, lattices[stop.drive]),
                hard[stop.name],
            )
            for stop in new
        ]
        for stop, design in zip(new, self._tasks.of(fit_task, [(one,) for one in asked], "fit stops"), strict=True):
            self._fitted[keys[stop.name]] = design
        return {stop.name: self._fitted[keys[stop.name]] for stop in stops}

    def _key(self, stop: TravelStop, lattice: Floats, hard: StopDesign | None) -> tuple[object, ...]:
        return stop, lattice.tobytes(), hard and hard.height, self.ways.corrections.about(stop)

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


def _evened(found: Mapping[str, StopDesign], stop: TravelStop) -> list[tuple[TravelStop, float]]:
    """A stop and its twin, both with the larger of their heights, and what is recommended then.

    The file holds one height for both. Nothing where there is no twin, or the heights are the same.
    """
    own, twin = found[stop.name], found.get(stop.twin_of)
    if twin is None or not (own.to_make and twin.to_make) or own.to_make == twin.to_make:
        return []
    height, most = max(own.to_make, twin.to_make), max(own.recommended or 0.0, twin.recommended or 0.0)
    return [(replace(each.stop, height=height), most) for each in (twin, own)]


def _of_drive(designs: Mapping[str, StopDesign], drive: str) -> dict[str, StopDesign]:
    return {name: design for name, design in designs.items() if design.stop.drive == drive}


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
