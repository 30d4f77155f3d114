"""Measures: their tables as written in a mechanism file, from tables to values, and their twins in the mirror."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import isnan
from typing import Annotated, Any, ClassVar, Literal

from assembly.model.feature import GROUND, Feature, FeatureKind
from assembly.model.feature_reader import FeatureReader
from assembly.model.measure import Measure, MeasureKind
from assembly.model.mirror import Mirror, flip_point, flipped
from assembly.model.positions import Place
from assembly.model.reading import Bench, OwnPoints
from assembly.model.schema import Number, StrictTable, TwoTables, by_kind, checked_table
from assembly.model.twins import OtherSide, texts

UNITS = {"deg": "degrees", "mm": "mm"}
LINES = (FeatureKind.LINE, FeatureKind.PLANE, FeatureKind.DIRECTION)
PLACED = (FeatureKind.POINT, FeatureKind.LINE, FeatureKind.PLANE)
UP = (0.0, 0.0, 1.0)
APART = {
    frozenset((FeatureKind.LINE, FeatureKind.PLANE)): "a line and a plane",
    frozenset((FeatureKind.PLANE,)): "two planes",
}
"""What has no distance but where it lies parallel."""
MOST = {MeasureKind.ANGLE: 180.0, MeasureKind.LEVEL: 180.0}
"""degrees that an angle without an axis can have."""


class MeasureTable(StrictTable):
    """What every measure may have."""

    least: Number | None = None
    most: Number | None = None
    unit: Literal["mm", "degrees"] | None = None


class AngleOf(StrictTable):
    """Two lines or planes, and the line that an angle between them is about."""

    angle: TwoTables
    about: Any = None


class DistanceOf(StrictTable):
    """Two of points, lines and planes."""

    distance: TwoTables


class CoordinateOf(StrictTable):
    """A point and the direction along which it counts."""

    coordinate: Any
    along: Any


class LevelOf(StrictTable):
    """The line or plane that a level is held against."""

    level: Any


class AngleTable(AngleOf, MeasureTable):
    """An angle between two lines or planes."""

    called: ClassVar[str] = "a measure of an angle"


class DistanceTable(DistanceOf, MeasureTable):
    """A distance between two of points, lines and planes."""

    called: ClassVar[str] = "a measure of a distance"


class CoordinateTable(CoordinateOf, MeasureTable):
    """A coordinate of a point."""

    called: ClassVar[str] = "a measure of a coordinate"


class LevelTable(LevelOf, MeasureTable):
    """What a level held against a line or plane reads."""

    called: ClassVar[str] = "a measure of a level's reading"


MEASURE_KINDS: dict[str, type[StrictTable]] = {
    "angle": AngleTable,
    "distance": DistanceTable,
    "coordinate": CoordinateTable,
    "level": LevelTable,
}
AnyMeasure = Annotated[MeasureTable, by_kind(MEASURE_KINDS, "measure")]
MeasureRead = tuple[MeasureTable, Measure]
"""A measure as written, and as read."""


def read_measures(
    raw: Mapping[str, object], own: Mapping[str, OwnPoints], bench: Bench
) -> dict[str, MeasureRead | None]:
    """Every measure of the file with its table, or None with its faults noted."""
    bench.log.check_names(raw, "measure", ("measures",))
    made: dict[str, MeasureRead | None] = {}
    for name, entry in raw.items():
        table = checked_table(AnyMeasure, entry, ("measures", name), bench.log)
        measure = None if table is None else read_measure(name, table, own, bench)
        made[name] = (table, measure) if table is not None and measure is not None else None
    return made


def read_measure(name: str, table: MeasureTable, own: Mapping[str, OwnPoints], bench: Bench) -> Measure | None:
    """One measure, or None with its faults noted. ``own`` holds every part's own copies of points."""
    before, place, reader = bench.log.marks, ("measures", name), FeatureReader(own, bench)
    kind = measure_kind_of(table)
    features, axis = read_quantity(kind, table, place, reader)
    least, most = _limits(kind, table, axis is not None, place, bench)
    check_unit(kind, table.unit, place, bench)
    if bench.log.marks != before:
        return None
    return Measure(name, kind, tuple(each for each in features if each), axis, least, most)


def read_quantity(
    kind: MeasureKind, table: StrictTable, place: Place, reader: FeatureReader
) -> tuple[list[Feature | None], Feature | None]:
    """The features of what is measured, and the axis if it has one; None where one is faulty."""
    where = (*place, kind.value)
    if isinstance(table, AngleOf):
        every = [reader.read(each, (*where, k), LINES) for k, each in enumerate(table.angle)]
        axis = None if table.about is None else reader.axis(table.about, (*place, "about"))
        return every, axis
    if isinstance(table, DistanceOf):
        every = [reader.read(each, (*where, k), PLACED) for k, each in enumerate(table.distance)]
        _check_apart(every, where, reader.bench)
        return every, None
    if isinstance(table, CoordinateOf):
        return [reader.read(table.coordinate, where, PLACED[:1])], reader.axis(table.along, (*place, "along"))
    return [reader.read(getattr(table, kind), where, LINES)], Feature(GROUND, FeatureKind.DIRECTION, None, UP, "up")


def measure_kind_of(table: StrictTable) -> MeasureKind:
    """What is measured, by the key that the table has."""
    return next(kind for kind in MeasureKind if hasattr(table, kind))


def check_unit(kind: MeasureKind, unit: str | None, place: Place, bench: Bench) -> None:
    """Noted where a stated unit is not that of the kind."""
    if unit is not None and unit != UNITS[kind.unit]:
        bench.log.add(
            (*place, "unit"),
            f"{_a(kind)} is not told in {unit}",
            f'write `unit = "{UNITS[kind.unit]}"`, or leave it out',
        )


def _check_apart(features: Sequence[Feature | None], place: Place, bench: Bench) -> None:
    what = APART.get(frozenset(each.kind for each in features if each)) if all(features) else None
    if what:
        bench.log.add(place, f"{what} have no distance unless they lie parallel", "measure a point of the one instead")


def _limits(
    kind: MeasureKind, table: MeasureTable, signed: bool, place: Place, bench: Bench
) -> tuple[float | None, float | None]:
    ends: list[float | None] = []
    for key in ("least", "most"):
        given = getattr(table, key)
        ends.append(None if given is None else bench.figures.coordinate(given, (*place, key)))
    least, most = ends
    if least is not None and most is not None and least > most:
        bench.log.add((*place, "least"), f"least {least:g} is more than most {most:g}", "give the smaller one as least")
    reach = MOST.get(kind) if not signed or kind is MeasureKind.LEVEL else None
    for key, end in (("least", least), ("most", most)):
        if end is not None and reach is not None and not isnan(end) and abs(end) > reach:
            bench.log.add((*place, key), f"{end:g} degrees is more than any such angle", f"give up to {reach:g}")
    return least, most


def _a(kind: MeasureKind) -> str:
    return "an angle" if kind.unit == "deg" else f"a {kind}"


def with_twins(read: Mapping[str, MeasureRead], other_side: OtherSide) -> dict[str, Measure]:
    """All measures with their twins; one that uses points of which the sides differ is read as its side has them."""
    mirror = other_side.bench.mirror

    def flip(twin: str, one: MeasureRead) -> Measure:
        table, measure = one
        parts = {each.part for each in (*measure.features, *([measure.axis] if measure.axis else ()))} - {GROUND}
        used = other_side.changed(*parts) & set(texts(table.model_dump()))
        again = None
        if used:
            bench = other_side.bench_across()
            own = {part: other_side.own_of(part) for part in parts}
            again = read_measure(measure.name, table, own, bench)
            other_side.note_faults(bench, ("measures", twin), used, tuple(parts))
        return flip_measure(mirror, twin, again or measure)

    return {**{name: measure for name, (_, measure) in read.items()}, **mirror.twins(read, flip)}


def flip_measure(mirror: Mirror, name: str, measure: Measure) -> Measure:
    """The twin of a measure. About a mirrored line an angle turns the other way, so its limits change sides."""
    features = tuple(flip_feature(mirror, each) for each in measure.features)
    axis = flip_feature(mirror, measure.axis) if measure.axis else None
    least, most = measure.limits
    if measure.is_turn:
        least, most = (None if end is None else 0.0 - end for end in (most, least))
    return replace(measure, name=name, features=features, axis=axis, least=least, most=most)


def flip_feature(mirror: Mirror, feature: Feature) -> Feature:
    """The same of the part on the other side."""
    words = _words_across(mirror, feature)
    at = None if feature.at is None else flipped(feature.at)
    along = flip_point("", feature.along)
    return Feature(mirror.other_side(feature.part), feature.kind, at, along, words)


def _words_across(mirror: Mirror, feature: Feature) -> str:
    what, of, part = feature.words.rpartition(" of ")
    if not of:
        return feature.words
    pieces = [mirror.other_side(piece) for piece in what.split("–")]
    return f"{'–'.join(pieces)}{of}{mirror.other_side(part)}"
