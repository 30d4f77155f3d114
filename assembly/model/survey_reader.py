"""Readings taken on the machine, and marks of what may differ there: from tables of the mechanism file to values."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import isnan, nan
from typing import Annotated, Any, ClassVar, Literal

from assembly.model.feature import FeatureKind
from assembly.model.feature_reader import FeatureReader
from assembly.model.file_tables import FileTable
from assembly.model.machine import Drive
from assembly.model.measure import Measure, MeasureKind
from assembly.model.measure_reader import (
    MOST,
    AngleOf,
    CoordinateOf,
    DistanceOf,
    LevelOf,
    check_unit,
    measure_kind_of,
    read_quantity,
)
from assembly.model.parameters import AXES, ParameterKind, entries
from assembly.model.positions import Place
from assembly.model.quantities_read import FileNumbers
from assembly.model.reading import Bench, OwnPoints
from assembly.model.schema import Number, StrictTable, ThreeNumbers, by_kind, checked_number, checked_table, empty_table
from assembly.model.survey import Observation, Survey, Uncertain
from assembly.model.wheel_reader import check_setting

SECTION = "measured"
MARK = "may_differ"


class ReadingTable(StrictTable):
    """What every reading has."""

    reading: Number
    plus_minus: Number
    at: dict[str, Number] = empty_table()
    unit: Literal["mm", "degrees"] | None = None


class AngleReading(AngleOf, ReadingTable):
    """A reading of an angle."""

    called: ClassVar[str] = "a reading of an angle"


class DistanceReading(DistanceOf, ReadingTable):
    """A reading of a distance."""

    called: ClassVar[str] = "a reading of a distance"


class CoordinateReading(CoordinateOf, ReadingTable):
    """A reading of a coordinate."""

    called: ClassVar[str] = "a reading of a coordinate"


class LevelReading(LevelOf, ReadingTable):
    """A reading of a level."""

    called: ClassVar[str] = "a reading of a level"


READING_KINDS: dict[str, type[StrictTable]] = {
    "angle": AngleReading,
    "distance": DistanceReading,
    "coordinate": CoordinateReading,
    "level": LevelReading,
}
AnyReading = Annotated[ReadingTable, by_kind(READING_KINDS, "reading")]


def read_survey(table: FileTable, drives: Mapping[str, Drive], own: Mapping[str, OwnPoints], bench: Bench) -> Survey:
    """The readings and marks of the file; what is wrong is noted. ``own`` holds every part's own points."""
    bench.log.check_names(table.measured, "reading", (SECTION,))
    read = (_observation(name, entry, drives, own, bench) for name, entry in table.measured.items())
    return Survey(tuple(one for one in read if one is not None), tuple(_uncertain(table, bench)))


def _observation(
    name: str, raw: object, drives: Mapping[str, Drive], own: Mapping[str, OwnPoints], bench: Bench
) -> Observation | None:
    place: Place = (SECTION, name)
    table = checked_table(AnyReading, raw, place, bench.log)
    if table is None:
        return None
    before, figures = bench.log.marks, bench.figures
    measure = measure_of(name, table, own, bench)
    at = {drive: figures.coordinate(value, (*place, "at", drive)) for drive, value in table.at.items()}
    check_setting({drive: value for drive, value in at.items() if not isnan(value)}, drives, (*place, "at"), bench)
    reading = figures.coordinate(table.reading, (*place, "reading"))
    error = figures.coordinate(table.plus_minus, (*place, "plus_minus"))
    if error <= 0:
        hint = "give what it may be off by in 19 of 20 cases, such as 0.5 for a steel rule"
        bench.log.add((*place, "plus_minus"), f"{error:g} is no reading error", hint)
    if measure is None or bench.log.marks != before:
        return None
    _check_possible(measure, reading, (*place, "reading"), bench)
    return Observation(measure, reading, error, at, bench.log.line(place)) if bench.log.marks == before else None


def measure_of(name: str, table: StrictTable, own: Mapping[str, OwnPoints], bench: Bench) -> Measure | None:
    """What a reading is of; None with its faults noted."""
    place, kind, before = (SECTION, name), measure_kind_of(table), bench.log.marks
    features, axis = read_quantity(kind, table, place, FeatureReader(own, bench))
    check_unit(kind, getattr(table, "unit", None), place, bench)
    if bench.log.marks != before:
        return None
    return Measure(name, kind, tuple(each for each in features if each), axis)


def read_again(raw: Mapping[str, object], own: Mapping[str, OwnPoints], bench: Bench) -> dict[str, Measure]:
    """What the readings of a sound file are of, with other numbers in the file."""
    found = {}
    for name, entry in raw.items():
        table = checked_table(AnyReading, entry, (SECTION, name), bench.log)
        measure = None if table is None else measure_of(name, table, own, bench)
        if measure is not None:
            found[name] = measure
    return found


def _check_possible(measure: Measure, reading: float, place: Place, bench: Bench) -> None:
    """Noted where nothing could read so."""
    planes = any(each.kind is FeatureKind.PLANE for each in measure.features)
    if measure.kind is MeasureKind.DISTANCE and reading < 0 and not planes:
        bench.log.add(place, f"{reading:g} mm is no distance", "only from a plane is one below 0: on its other side")
    reach = MOST.get(measure.kind) if measure.axis is None or measure.kind is MeasureKind.LEVEL else None
    if reach is not None and abs(reading) > reach:
        bench.log.add(place, f"{reading:g} degrees is more than any such angle", f"give up to {reach:g}")


def _uncertain(table: FileTable, bench: Bench) -> Iterator[Uncertain]:
    """Every number that is marked, in the order of the file."""
    raw = {"dimensions": table.dimensions, "points": table.points, "parts": table.parts}
    for name, kind, place, given in _sound_entries(raw):
        marked, at = _mark(raw, kind, place)
        if marked is None:
            continue
        most = _amount(marked, at, place, bench)
        value = _value(kind, place, given, bench.figures)
        if kind is not ParameterKind.POINT and isinstance(given, str):
            hint = "mark the dimensions that it is worked out from"
            bench.log.add(at, "arithmetic stands here, so it cannot be off by itself", hint)
        elif most > 0 and not isnan(value):
            written = given if isinstance(given, str) else ""
            yield Uncertain(name, place, value, most, written, bench.log.line(place))


def _sound_entries(raw: Mapping[str, Any]) -> Iterator[tuple[str, ParameterKind, Place, Any]]:
    """The numbers of the file, none where a table is not as it should be: that is told by who reads it."""
    try:
        yield from entries(raw)
    except (KeyError, TypeError, AttributeError):
        return


def _mark(raw: Mapping[str, Any], kind: ParameterKind, place: Place) -> tuple[Any, Place]:
    """What the table of a number says of how far it may be off, and where; None where it says nothing."""
    owner = place if kind is ParameterKind.DIMENSION else place[:-1]
    table: Any = raw
    for step in owner:
        table = table[step]
    if not isinstance(table, dict):
        return None, owner
    marked = table.get(MARK)
    if kind is ParameterKind.POINT and isinstance(marked, list):
        axis = int(place[-1])
        return (marked[axis] if len(marked) == len(AXES) else marked), (*owner, MARK, axis)
    return marked, (*owner, MARK)


def _amount(marked: Any, at: Place, place: Place, bench: Bench) -> float:
    """How far off a number may be; 0 for none, noted where it is no amount."""
    if isinstance(marked, list):
        if place[-1] == 0:
            checked_table(ThreeNumbers, marked, at[:-1], bench.log)
        return 0.0
    number = checked_number(marked, at, bench.log)
    most = nan if number is None else bench.figures.coordinate(number, at)
    one_axis = isinstance(at[-1], int)
    if most < 0 or (most == 0 and not one_axis):
        bench.log.add(at, f"{most:g} is no amount to differ by", "give how far off it may be at most, more than 0")
    return 0.0 if isnan(most) else most


def _value(kind: ParameterKind, place: Place, given: Any, figures: FileNumbers) -> float:
    if kind is ParameterKind.DIMENSION:
        value = figures.dimensions.get(str(place[1]))
        return nan if value is None else value
    return figures.number(given, place)
