"""Wheels and the road: from tables to values, those of the other side too."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import isnan
from typing import Any

from assembly.model.fault_list import shown
from assembly.model.feature import GROUND, FeatureKind
from assembly.model.feature_reader import STILL, FeatureReader
from assembly.model.file_tables import FileTable
from assembly.model.machine import Drive, Vector
from assembly.model.mirror import Mirror, flipped
from assembly.model.positions import Place
from assembly.model.reading import Bench, OwnPoints
from assembly.model.schema import PointValue, TwoNumbers, checked_table
from assembly.model.twins import OtherSide, texts
from assembly.model.wheel import (
    OF_MACHINE,
    OF_PAIR,
    OF_PAIR_AND_REAR,
    FigureLimit,
    Kingpin,
    Road,
    Wheel,
    WheelWord,
    words_of,
)
from assembly.model.wheel_tables import LimitAtTable, RoadTable, WheelTable

ACROSS = 0.5
"""An axle points across the machine if this is the least y of its unit vector."""
WheelRead = tuple[WheelTable, Wheel]
"""A wheel as written, and as read."""


@dataclass(frozen=True, slots=True)
class RunningRead:
    """Wheels and road as the file writes them, without the other side."""

    wheels: Mapping[str, WheelRead]
    road: Road


def read_running(
    table: FileTable, drives: Mapping[str, Drive | None], own: Mapping[str, OwnPoints], bench: Bench
) -> RunningRead:
    """``[wheels]`` and ``[road]``; faults are noted."""
    return RunningRead(read_wheels(table.wheels, own, bench), read_road(table.road, drives, own, bench))


def read_wheels(raw: Mapping[str, object], own: Mapping[str, OwnPoints], bench: Bench) -> dict[str, WheelRead]:
    """Every wheel of the file with its table; faults are noted."""
    bench.log.check_names(raw, "wheel", ("wheels",))
    found = {}
    for name, entry in raw.items():
        table = checked_table(WheelTable, entry, ("wheels", name), bench.log)
        wheel = None if table is None else _Reader(("wheels", name), own, bench).wheel(name, table)
        if table is not None and wheel is not None:
            found[name] = (table, wheel)
    return found


class _Reader:
    """Reads the one wheel at ``place``."""

    def __init__(self, place: Place, own: Mapping[str, OwnPoints], bench: Bench) -> None:
        self.place, self.own, self.bench, self.log = place, own, bench, bench.log

    def wheel(self, name: str, table: WheelTable) -> Wheel | None:
        before, figures = self.log.marks, self.bench.figures
        if not self.log.knows(table.part, self.bench.part_names, "part", (*self.place, "part")):
            return None
        points = self.bench.points.with_own(self.own.get(table.part, {}))
        centre = points.point(table.centre, (*self.place, "centre"))
        spin = self.spin(points.direction(table.spin, (*self.place, "spin")))
        tyre = figures.size(table.tyre_diameter, (*self.place, "tyre_diameter"))
        section = figures.size(table.section, (*self.place, "section"))
        rim = None if table.rim_diameter is None else figures.size(table.rim_diameter, (*self.place, "rim_diameter"))
        kingpin = None if table.kingpin is None else self.kingpin(table)
        if self.log.marks == before:
            self.check_sizes(tyre, section, rim)
        wheel = Wheel(name, table.part, centre, spin, tyre, section, rim, kingpin)
        limits = read_figure_limits(table.limits, words_of(wheel), (*self.place, "limits"), self.bench)
        return replace(wheel, limits=limits) if self.log.marks == before else None

    def spin(self, along: Vector) -> Vector:
        """The axle's direction to the left."""
        x, y, z = along
        if not isnan(y) and abs(y) < ACROSS:
            told = f"this axle points along [{x:z.3g}, {y:z.3g}, {z:z.3g}], not across the machine"
            self.log.add((*self.place, "spin"), told, "y is to the left: a wheel's axle is near [0, 1, 0]")
        return (x, y, z) if y >= 0 or isnan(y) else (0.0 - x, 0.0 - y, 0.0 - z)

    def check_sizes(self, tyre: float, section: float, rim: float | None) -> None:
        if rim is not None and rim >= tyre:
            told = f"a rim of {rim:g} mm is no smaller than its tyre of {tyre:g} mm"
            self.log.add((*self.place, "rim_diameter"), told, "give both as diameters, the rim's at its edge")
        if 2 * section >= tyre:
            told = f"a tyre of {tyre:g} mm cannot have a section of {section:g} mm"
            self.log.add((*self.place, "section"), told, "give the width of the tyre, less than half its diameter")

    def kingpin(self, table: WheelTable) -> Kingpin | None:
        """By two points of the wheel's part, or of one that each says."""
        before, ends = self.log.marks, list[tuple[str, Vector] | None]()
        for number, raw in enumerate(table.kingpin or ()):
            place = (*self.place, "kingpin", number)
            if isinstance(raw, dict):
                feature = FeatureReader(self.own, self.bench).read(raw, place, (FeatureKind.POINT,))
                ends.append((feature.part, feature.at) if feature and feature.at else None)
                continue
            given: Any = checked_table(PointValue, raw, place, self.log)  # type: ignore[arg-type]  # a union is no `type`
            points = self.bench.points.with_own(self.own.get(table.part, {}))
            ends.append(None if given is None else (table.part, points.point(given, place)))
        first, second = ends
        if self.log.marks != before or first is None or second is None:
            return None
        (part, lower), (other, upper) = first, second
        if upper[2] <= lower[2]:
            told = f"the upper point lies at z {upper[2]:g} and the lower at {lower[2]:g}"
            self.log.add((*self.place, "kingpin"), told, "give the lower point first, then the upper one above it")
        return Kingpin(part, lower, upper, other)


def read_figure_limits(
    raw: Mapping[str, object], words: Sequence[WheelWord], place: Place, bench: Bench
) -> tuple[FigureLimit, ...]:
    """Limits of figures: two numbers over the whole range, or a table with `at`; faults are noted."""
    found = []
    for key, entry in raw.items():
        if not bench.log.knows(key, tuple(map(str, words)), "figure", (*place, key)):
            continue
        limit = _limit(WheelWord(key), entry, (*place, key), bench)
        if limit is not None:
            found.append(limit)
    return tuple(found)


def _limit(word: WheelWord, entry: object, place: Place, bench: Bench) -> FigureLimit | None:
    number = bench.figures.coordinate
    if isinstance(entry, dict):
        table = checked_table(LimitAtTable, entry, place, bench.log)
        if table is None:
            return None
        ends = [None if end is None else number(end, place) for end in (table.least, table.most)]
        at = {name: number(value, (*place, "at", name)) for name, value in table.at.items()}
    else:
        pair: Any = checked_table(TwoNumbers, entry, place, bench.log)
        if pair is None:
            return None
        ends, at = [number(each, (*place, k)) for k, each in enumerate(pair)], None
    least, most = ends
    if least is not None and most is not None and least > most:
        bench.log.add(place, f"least {least:g} is more than most {most:g}", "give the smaller one first")
        return None
    return FigureLimit(word, least, most, at)


def read_road(
    raw: Mapping[str, object], drives: Mapping[str, Drive | None], own: Mapping[str, OwnPoints], bench: Bench
) -> Road:
    """The road, without the wheels that rest on it; faults are noted."""
    table = checked_table(RoadTable, raw, ("road",), bench.log)
    if table is None:
        return Road()
    reader = FeatureReader(own, bench)
    contact = None if table.contact is None else reader.read(table.contact, ("road", "contact"), (FeatureKind.POINT,))
    plane = None if table.plane is None else reader.read(table.plane, ("road", "plane"), (FeatureKind.PLANE,))
    if table.plane is not None and (table.contact is not None or table.rests_on is not None):
        told = "a road that is a stated plane rests on nothing else"
        bench.log.add(("road", "plane"), told, "give `plane` alone, or leave it out and let the tyres say it")
    frame = GROUND if table.frame in (None, STILL) else str(table.frame)
    if frame != GROUND:
        bench.log.knows(frame, bench.part_names, "part", ("road", "frame"))
    at = {
        name: bench.figures.coordinate(value, ("road", "toe_set_at", name)) for name, value in table.toe_set_at.items()
    }
    check_setting(at, drives, ("road", "toe_set_at"), bench)
    words = (*OF_MACHINE, *OF_PAIR, *OF_PAIR_AND_REAR)
    limits = read_figure_limits(table.limits, words, ("road", "limits"), bench)
    toe = None if table.toe_wanted is None else bench.figures.coordinate(table.toe_wanted, ("road", "toe_wanted"))
    return Road(contact, plane, tuple(table.rests_on or ()), frame, at, limits, toe)


def check_setting(at: Mapping[str, float], drives: Mapping[str, Drive | None], place: Place, bench: Bench) -> None:
    """Noted where a setting names a drive that there is not, or goes beyond its range."""
    for name, value in at.items():
        if not bench.log.knows(name, drives, "drive", (*place, name)):
            continue
        drive = drives[name]
        if drive is not None and not drive.low <= value <= drive.high:
            told = f"drive {shown(name)} cannot be set to {value:g}"
            bench.log.add((*place, name), told, f"its range is {drive.low:g} to {drive.high:g}")


def wheels_with_twins(read: Mapping[str, WheelRead], other_side: OtherSide) -> dict[str, Wheel]:
    """All wheels with their twins; one that uses points of which the sides differ is read as its side has them."""
    mirror = other_side.bench.mirror

    def flip(twin: str, one: WheelRead) -> Wheel:
        table, wheel = one
        parts = {wheel.part, *({wheel.kingpin.part} if wheel.kingpin else ())} - {GROUND}
        used = other_side.changed(*parts) & set(texts(table.model_dump()))
        if not used:
            return _flipped(mirror, twin, wheel)
        bench = other_side.bench_across()
        own = {part: other_side.own_of(part) for part in parts}
        again = _Reader(("wheels", wheel.name), own, bench).wheel(wheel.name, table)
        other_side.note_faults(bench, ("wheels", twin), used, tuple(parts))
        return _flipped(mirror, twin, again or wheel)

    return {**{name: wheel for name, (_, wheel) in read.items()}, **mirror.twins(read, flip)}


def _flipped(mirror: Mirror, name: str, wheel: Wheel) -> Wheel:
    """The wheel on the other side; of its axle the direction to the left stays one to the left."""
    x, y, z = flipped(wheel.spin)
    pin, across = wheel.kingpin, mirror.other_side
    kingpin = pin and Kingpin(across(pin.part), flipped(pin.lower), flipped(pin.upper), across(pin.upper_part))
    return replace(
        wheel,
        name=name,
        part=across(wheel.part),
        centre=flipped(wheel.centre),
        spin=(0.0 - x, 0.0 - y, 0.0 - z),
        kingpin=kingpin,
        limits=tuple(map(_flipped_limit, wheel.limits)),
    )


def _flipped_limit(limit: FigureLimit) -> FigureLimit:
    """Toe, camber and the like are the same on both sides; a steer angle to the left is one to the right there."""
    if limit.figure is not WheelWord.STEER:
        return limit
    least, most = (None if end is None else 0.0 - end for end in (limit.most, limit.least))
    return replace(limit, least=least, most=most)
