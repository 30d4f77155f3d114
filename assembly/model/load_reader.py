"""Load cases: their tables as written in a mechanism file, and from tables to values."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import isnan
from typing import Any, ClassVar

from assembly.model.fault_list import shown
from assembly.model.load_case import Force, LoadCase, Moment, Stop, Weight
from assembly.model.positions import Place
from assembly.model.quantities import GRAVITY, Vector
from assembly.model.quantities_read import Given
from assembly.model.reading import Bench, OwnPoints
from assembly.model.schema import (
    DirectionValue,
    Name,
    Number,
    PointValue,
    StrictTable,
    ThreeNumbers,
    checked_table,
    empty_list,
)
from assembly.model.travel_stop import TravelStop


class ForceTable(StrictTable):
    """A force on a part."""

    called: ClassVar[str] = "a force"
    on: Name
    at: PointValue
    newtons: ThreeNumbers


class MomentTable(StrictTable):
    """A moment on a part."""

    called: ClassVar[str] = "a moment"
    on: Name
    newton_metres: ThreeNumbers


class WeightTable(StrictTable):
    """A mass that a part carries."""

    called: ClassVar[str] = "a weight"
    on: Name
    at: PointValue
    kilograms: Number


class PushedStopTable(StrictTable):
    """A solid stop that holds a drive."""

    called: ClassVar[str] = "a stop"
    on: Name
    against: Name
    at: PointValue
    push: DirectionValue
    holds: Name


class LoadCaseTable(StrictTable):
    """All that pushes at one time."""

    called: ClassVar[str] = "a load case"
    forces: list[ForceTable] = empty_list()
    moments: list[MomentTable] = empty_list()
    weights: list[WeightTable] = empty_list()
    down: DirectionValue | None = None
    gravity: Number = GRAVITY
    stop: Any = None


LARGEST = 1e9
"""N, N·m, kg or m/s²: beyond any machine that a workshop builds."""
DOWN: Vector = (0.0, 0.0, -1.0)


def read_load_cases(
    raw: Mapping[str, object], holders: Holders, own: Mapping[str, OwnPoints], bench: Bench
) -> dict[str, LoadCase | None]:
    """Every load case of the file, or None with its faults noted. ``own`` holds every part's own copies of points."""
    bench.log.check_names(raw, "load case", ("loads",))
    return {name: _Reader(("loads", name), own, bench).case(entry, holders) for name, entry in raw.items()}


def read_rating(given: Given, place: Place, bench: Bench) -> float:
    """A rating in N; a fault where it is not above zero."""
    return _positive(given, place, "N", bench)


def _positive(given: Given, place: Place, unit: str, bench: Bench) -> float:
    number = bench.figures.number(given, place)
    if not isnan(number) and not 0 < number <= LARGEST:
        bench.log.add(place, f"{number:g} {unit} is not above 0 and below {LARGEST:g}", "give a number above 0")
    return number


@dataclass(frozen=True, slots=True)
class Holders:
    """What can hold a machine: its drives, and its stops by name."""

    drives: Mapping[str, object]
    stops: Mapping[str, TravelStop]


class _Reader:
    """Reads the one load case at ``place``."""

    def __init__(self, place: Place, own: Mapping[str, OwnPoints], bench: Bench) -> None:
        self.place, self.own, self.bench = place, own, bench

    def case(self, raw: object, holders: Holders) -> LoadCase | None:
        log, before = self.bench.log, self.bench.log.marks
        table = checked_table(LoadCaseTable, raw, self.place, log)
        if table is None:
            return None
        forces = [
            (each.on, self.point(each.on, each.at, "forces", k), self.push(each.newtons, "N", "forces", k, "newtons"))
            for k, each in enumerate(table.forces)
        ]
        moments = [
            (
                self.part(each.on, "moments", k, "on"),
                self.push(each.newton_metres, "N·m", "moments", k, "newton_metres"),
            )
            for k, each in enumerate(table.moments)
        ]
        weights = [
            (each.on, self.point(each.on, each.at, "weights", k), self.mass(each.kilograms, k))
            for k, each in enumerate(table.weights)
        ]
        gravity = _positive(table.gravity, (*self.place, "gravity"), "m/s²", self.bench)
        down = DOWN if table.down is None else self.bench.points.direction(table.down, (*self.place, "down"))
        stop = None if table.stop is None else self.stop(table.stop, holders)
        if not (forces or moments or weights):
            log.add(self.place, "the load case is empty", "give at least one force, moment or weight")
        if log.marks != before:
            return None
        return LoadCase(
            tuple(Force(*each) for each in forces),
            tuple(Moment(*each) for each in moments),
            tuple(Weight(*each) for each in weights),
            gravity,
            down,
            stop,
        )

    def stop(self, raw: object, holders: Holders) -> Stop | None:
        """A stop of the file by its name, or one that is reported by where it pushes."""
        place = (*self.place, "stop")
        if isinstance(raw, str):
            return self.named_stop(raw, holders.stops)
        table = checked_table(PushedStopTable, raw, place, self.bench.log)
        return None if table is None else self.pushed_stop(table, holders.drives)

    def named_stop(self, name: str, stops: Mapping[str, TravelStop]) -> Stop | None:
        log, place = self.bench.log, (*self.place, "stop")
        if not log.knows(name, stops, "stop", place):
            return None
        stop = stops[name]
        if stop.height is None:
            log.add(place, f"the height of stop {shown(name)} is not known", "let `swingroom stop` find it first")
            return None
        tip = [foot + stop.height * way for foot, way in zip(stop.at, stop.along, strict=True)]
        x, y, z = (-way for way in stop.along)
        return Stop(stop.carrier, stop.other, (tip[0], tip[1], tip[2]), (x, y, z), stop.drive, stop.carrier)

    def pushed_stop(self, table: PushedStopTable, drives: Mapping[str, object]) -> Stop:
        log, place = self.bench.log, (*self.place, "stop")
        at = self.point(table.on, table.at, "stop")
        self.part(table.against, "stop", "against")
        if table.on == table.against:
            log.add((*place, "against"), f"{shown(table.on)} would strike itself", "name two different parts")
        log.knows(table.holds, drives, "drive", (*place, "holds"))
        push = self.bench.points.direction(table.push, (*place, "push"))
        return Stop(table.on, table.against, at, push, table.holds)

    def part(self, name: str, *steps: str | int) -> str:
        self.bench.log.knows(name, self.bench.part_names, "part", (*self.place, *steps))
        return name

    def point(self, part: str, at: str | Sequence[Given], *steps: str | int) -> Vector:
        """The point that ``part`` is loaded at, by the part's own copy of it where it has one."""
        self.part(part, *steps, "on")
        return self.bench.points.with_own(self.own.get(part, {})).point(at, (*self.place, *steps, "at"))

    def push(self, given: Sequence[Given], unit: str, *steps: str | int) -> Vector:
        place = (*self.place, *steps)
        x, y, z = (self.bench.figures.number(each, (*place, k)) for k, each in enumerate(given))
        largest = max(abs(x), abs(y), abs(z))
        if largest == 0:
            self.bench.log.add(place, f"0 {unit} pushes nothing", "give how hard it pushes along x, y and z")
        elif largest > LARGEST:
            self.bench.log.add(place, f"{largest:g} {unit} is beyond all bounds", f"give up to {LARGEST:g} {unit}")
        return x, y, z

    def mass(self, given: Given, number: int) -> float:
        return _positive(given, (*self.place, "weights", number, "kilograms"), "kg", self.bench)
