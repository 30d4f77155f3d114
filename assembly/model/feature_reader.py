"""Points, lines and planes of parts: their tables as written in a mechanism file, and from tables to values.

Whatever names such a thing in the file takes a ``FeatureTable`` and reads it here, so that all are written alike.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import hypot
from typing import Any, ClassVar

from assembly.model.fault_list import listed, shown
from assembly.model.feature import GROUND, Feature, FeatureKind
from assembly.model.positions import Place
from assembly.model.quantities import Vector
from assembly.model.quantities_read import LOST
from assembly.model.reading import Bench, OwnPoints
from assembly.model.schema import (
    DirectionValue,
    Name,
    PointValue,
    StrictTable,
    ThreePoints,
    TwoPoints,
    checked_table,
)

STILL = "ground"
"""What stands still, as the file writes it where no part has this name."""
WRITTEN = {
    frozenset(("at",)): FeatureKind.POINT,
    frozenset(("line",)): FeatureKind.LINE,
    frozenset(("at", "along")): FeatureKind.LINE,
    frozenset(("plane",)): FeatureKind.PLANE,
    frozenset(("at", "normal")): FeatureKind.PLANE,
    frozenset(("along",)): FeatureKind.DIRECTION,
}
"""The keys beside ``on`` that make each kind."""
HOW = {
    FeatureKind.POINT: "`at`",
    FeatureKind.LINE: "`line` (two points), or `at` and `along`",
    FeatureKind.PLANE: "`plane` (three points), or `at` and `normal`",
    FeatureKind.DIRECTION: "`along`",
}
LEAST_SINE = 1e-6
"""Three points whose directions from each other differ by less lie on one line."""


class FeatureTable(StrictTable):
    """A point, line or plane of a part."""

    called: ClassVar[str] = "a point, line or plane of a part"
    on: Name
    at: PointValue | None = None
    along: DirectionValue | None = None
    line: TwoPoints | None = None
    normal: DirectionValue | None = None
    plane: ThreePoints | None = None


class FeatureReader:
    """Reads features of one file. ``own`` holds every part's own copies of points."""

    def __init__(self, own: Mapping[str, OwnPoints], bench: Bench) -> None:
        self.own, self.bench = own, bench

    def read(self, raw: object, place: Place, kinds: Sequence[FeatureKind]) -> Feature | None:
        """The feature that ``raw`` at ``place`` describes, one of ``kinds``; None with its faults noted."""
        log, before = self.bench.log, self.bench.log.marks
        table = checked_table(FeatureTable, raw, place, log)
        if table is None:
            return None
        keys = [key for key in ("at", "along", "line", "normal", "plane") if getattr(table, key) is not None]
        kind = WRITTEN.get(frozenset(keys))
        wanted = ", or ".join(f"a {each} by {HOW[each]}" for each in kinds)
        if kind is None:
            told = f"the keys {listed(keys)} together say" if keys else f"`on = {shown(table.on)[1:-1]}` alone says"
            log.add(place, f"{told} no point, line or plane", f"write {wanted}")
        elif kind not in kinds:
            log.add(place, f"a {kind} stands where {_one_of(kinds)} is needed", f"write {wanted}")
        part = GROUND if table.on == STILL and STILL not in self.bench.part_names else table.on
        if part != GROUND:
            log.knows(part, self.bench.part_names, "part", (*place, "on"))
        if kind is None or log.marks != before:
            return None
        at, along = self._values(table, place)
        words = f"{_words(table, keys)} of {table.on}"
        return Feature(part, kind, at, along, words) if log.marks == before else None

    def axis(self, raw: object, place: Place) -> Feature | None:
        """A direction of the ground, as three numbers or two points, or a line or direction of a part."""
        if isinstance(raw, dict):
            return self.read(raw, place, (FeatureKind.LINE, FeatureKind.DIRECTION))
        log, before = self.bench.log, self.bench.log.marks
        given = checked_table(DirectionValue, raw, place, log)
        if given is None:
            return None
        along = self.bench.points.direction(given, place)
        feature = Feature(GROUND, FeatureKind.DIRECTION, None, along, _arrow(given))
        return feature if log.marks == before else None

    def _values(self, table: FeatureTable, place: Place) -> tuple[Vector | None, Vector | None]:
        points = self.bench.points.with_own(self.own.get(table.on, {}))
        if table.line is not None:
            start, end = (points.point(each, (*place, "line", k)) for k, each in enumerate(table.line))
            return start, self._between(start, end, (*place, "line"))
        if table.plane is not None:
            p, q, r = (points.point(each, (*place, "plane", k)) for k, each in enumerate(table.plane))
            return p, self._square_to(p, q, r, (*place, "plane"))
        at = None if table.at is None else points.point(table.at, (*place, "at"))
        key = "along" if table.along is not None else "normal"
        given = getattr(table, key)
        return at, None if given is None else points.direction(given, (*place, key))

    def _between(self, start: Vector, end: Vector, place: Place) -> Vector:
        """The unit vector from ``start`` to ``end``."""
        x, y, z = (b - a for a, b in zip(start, end, strict=True))
        length = hypot(x, y, z)
        if length <= LEAST_SINE:
            told = "both points of this line are the same place"
            self.bench.log.add(place, told, "a line goes through two points that lie apart")
            return LOST
        return x / length, y / length, z / length

    def _square_to(self, p: Vector, q: Vector, r: Vector, place: Place) -> Vector:
        """The unit normal of the plane through three points, from where they are seen in turn anticlockwise."""
        (a, b, c), (u, v, w) = ([y - x for x, y in zip(p, end, strict=True)] for end in (q, r))
        x, y, z = b * w - c * v, c * u - a * w, a * v - b * u
        size, longest = hypot(x, y, z), hypot(a, b, c) * hypot(u, v, w)
        if size <= LEAST_SINE * longest:
            told = "the three points of this plane lie on one line"
            self.bench.log.add(place, told, "a plane goes through three points that do not")
            return LOST
        return x / size, y / size, z / size


def _one_of(kinds: Sequence[FeatureKind]) -> str:
    return f"a {' or '.join([', '.join(kinds[:-1])] * (len(kinds) > 1) + [kinds[-1]])}"


def _words(table: FeatureTable, keys: Sequence[str]) -> str:
    """What the report calls it: by the names of its points where it has them."""
    if table.line is not None:
        return f"line {_point(table.line[0])}–{_point(table.line[1])}"
    if table.plane is not None:
        return f"plane {'–'.join(map(_point, table.plane))}"
    if keys == ["at"]:
        return str(_point(table.at))
    arrow = _arrow(table.along or table.normal or [])
    at = f" at {_point(table.at)}" if table.at is not None else ""
    return f"plane{at} square to {arrow}" if table.normal is not None else f"line{at} along {arrow}"


def _arrow(given: Sequence[Any]) -> str:
    return "–".join(map(str, given)) if len(given) == 2 else _point(given)


def _point(given: Any) -> str:
    return given if isinstance(given, str) else f"[{', '.join(_number(each) for each in given)}]"


def _number(given: Any) -> str:
    return given if isinstance(given, str) else f"{given:g}"
