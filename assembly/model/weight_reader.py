"""Masses: the tables of ``[weights]`` as written, and from tables to values, those of the other side too."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from math import isnan
from typing import Any, ClassVar

from assembly.model.fault_list import listed, shown
from assembly.model.machine import Drive, DriveKind
from assembly.model.materials import DENSITIES, MATERIAL_SOURCE
from assembly.model.mirror import flip_point
from assembly.model.positions import Place
from assembly.model.quantities import Vector
from assembly.model.quantities_read import Given
from assembly.model.reading import Bench, OwnPoints
from assembly.model.schema import (
    Name,
    Number,
    PointValue,
    StrictTable,
    TwoPoints,
    checked_table,
    empty_list,
    empty_table,
)
from assembly.model.weights import CarriedMass, ContactLine, MachineLean, OnPart, PartWeight, Weights

_SECTION = "weights"
_LARGEST = 1e6
"""kg, kg/dm³, m/s and m: beyond any machine that a workshop builds."""


class PartWeightTable(StrictTable):
    """The mass of a part."""

    called: ClassVar[str] = "a part's weight"
    material: Name | None = None
    density: Number | None = None
    source: str = "the builder's own"
    mass: Number | None = None
    at: PointValue | None = None


class CarriedTable(StrictTable):
    """A mass that a part carries."""

    called: ClassVar[str] = "a carried weight"
    on: Name
    mass: Number
    at: PointValue


class CornerTable(StrictTable):
    """A bend."""

    called: ClassVar[str] = "a bend"
    speed: Number
    radius: Number


class LeanTable(StrictTable):
    """How the machine leans."""

    called: ClassVar[str] = "a lean"
    drive: Name
    line: TwoPoints
    frame: bool = False
    corners: list[CornerTable] = empty_list()


class OnPartTable(StrictTable):
    """A point that moves with a part."""

    called: ClassVar[str] = "a point of a part"
    on: Name
    at: PointValue


class WeightsTable(StrictTable):
    """All masses; entries are checked one by one."""

    called: ClassVar[str] = "weights"
    material: Name | None = None
    density: Number | None = None
    source: str = "the builder's own"
    parts: dict[str, Any] = empty_table()
    carried: dict[str, Any] = empty_table()
    lean: LeanTable | None = None
    contact: dict[str, Any] = empty_table()


def read_weights(
    raw: Mapping[str, object], drives: Mapping[str, Drive | None], own: Mapping[str, OwnPoints], bench: Bench
) -> Weights | None:
    """What the file says of masses; None if it says nothing. Raises every fault of it."""
    table = checked_table(WeightsTable, raw, (_SECTION,), bench.log) if raw else None
    made = _Reader(own, bench).weights(table, drives) if table is not None else None
    bench.log.raise_faults()
    return made


class _Reader:
    def __init__(self, own: Mapping[str, OwnPoints], bench: Bench) -> None:
        self.own, self.bench, self.log = own, bench, bench.log

    def weights(self, table: WeightsTable, drives: Mapping[str, Drive | None]) -> Weights:
        whole = PartWeightTable(material=table.material, density=table.density, source=table.source)
        given = table.material is not None or table.density is not None
        others = self.part_weight(whole, "", (_SECTION,)) if given else None
        parts = {}
        for name, entry in table.parts.items():
            place: Place = (_SECTION, "parts", name)
            self.log.knows(name, self.bench.part_names, "part", place)
            checked = checked_table(PartWeightTable, entry, place, self.log)
            if checked is not None:
                parts[name] = self.part_weight(checked, name, place)
        parts |= self.bench.mirror.twins(parts, lambda _name, one: replace(one, at=flip_point("", one.at)))
        return Weights(
            parts={name: one for name, one in parts.items() if name in self.bench.part_names},
            others=others,
            carried=tuple(self.carried(name, entry) for name, entry in table.carried.items()),
            lean=None if table.lean is None else self.lean(table.lean, drives),
            contacts=tuple(self.contact(name, entry) for name, entry in table.contact.items()),
        )

    def part_weight(self, table: PartWeightTable, part: str, place: Place) -> PartWeight:
        given = [key for key in ("material", "density", "mass") if getattr(table, key) is not None]
        if len(given) != 1:
            self.log.add(place, "a weight is one of `material`, `density` and `mass`", "give one of them")
            return PartWeight()
        at = None if table.at is None else self.point(part, table.at, (*place, "at"))
        if table.mass is not None:
            return PartWeight(mass=self.positive(table.mass, (*place, "mass"), "kg"), at=at)
        if table.density is not None:
            return PartWeight(
                density=self.positive(table.density, (*place, "density"), "kg/dm³"), source=table.source, at=at
            )
        name = str(table.material)
        if name not in DENSITIES:
            hint = f"known are {listed(DENSITIES)}; or give its `density` in kg/dm³"
            self.log.add((*place, "material"), f"the density of {shown(name)} is not known here", hint)
        return PartWeight(density=DENSITIES.get(name), material=name, source=MATERIAL_SOURCE, at=at)

    def carried(self, name: str, raw: object) -> CarriedMass:
        place: Place = (_SECTION, "carried", name)
        self.log.check_name(name, "carried weight", place)
        table = checked_table(CarriedTable, raw, place, self.log)
        if table is None:
            return CarriedMass(name, "", 0.0, (0.0, 0.0, 0.0))
        self.log.knows(table.on, self.bench.part_names, "part", (*place, "on"))
        at = self.point(table.on, table.at, (*place, "at"))
        return CarriedMass(name, table.on, self.positive(table.mass, (*place, "mass"), "kg"), at)

    def lean(self, table: LeanTable, drives: Mapping[str, Drive | None]) -> MachineLean:
        place: Place = (_SECTION, "lean")
        if self.log.knows(table.drive, drives, "drive", (*place, "drive")):
            drive = drives[table.drive]
            if drive is not None and drive.kind is not DriveKind.TURNS:
                self.log.add((*place, "drive"), f"{shown(table.drive)} slides", "name a drive that turns")
        start, end = (self.point("", each, (*place, "line", k)) for k, each in enumerate(table.line))
        gone = sum((b - a) ** 2 for a, b in zip(start, end, strict=True)) ** 0.5
        if not isnan(gone) and gone < 1e-6:
            self.log.add((*place, "line"), "its two points are the same place", "a line leads through two points")
        x, y, z = ((b - a) / (gone or 1.0) for a, b in zip(start, end, strict=True))
        corners = tuple(
            (
                self.positive(each.speed, (*place, "corners", k, "speed"), "m/s"),
                self.positive(each.radius, (*place, "corners", k, "radius"), "m"),
            )
            for k, each in enumerate(table.corners)
        )
        return MachineLean(table.drive, start, (x, y, z), table.frame, corners)

    def contact(self, name: str, raw: object) -> ContactLine:
        place: Place = (_SECTION, "contact", name)
        self.log.check_name(name, "contact line", place)
        if not isinstance(raw, list) or len(raw) != 2:
            hint = "give two points, each [x, y, z], a name, or { on = PART, at = [x, y, z] }"
            self.log.add(place, "a contact line leads through two points", hint)
            return ContactLine(name, (OnPart("", (0.0, 0.0, 0.0)), OnPart("", (1.0, 0.0, 0.0))))
        first, second = (self.on_part(each, (*place, k)) for k, each in enumerate(raw))
        if first == second:
            self.log.add(place, "its two points are the same place", "give two different points")
        return ContactLine(name, (first, second))

    def on_part(self, raw: object, place: Place) -> OnPart:
        if isinstance(raw, dict):
            table = checked_table(OnPartTable, raw, place, self.log)
            if table is None:
                return OnPart("", (0.0, 0.0, 0.0))
            self.log.knows(table.on, self.bench.part_names, "part", (*place, "on"))
            return OnPart(table.on, self.point(table.on, table.at, (*place, "at")))
        at = checked_table(PointValue, raw, place, self.log)  # type: ignore[arg-type]  # an alias is no `type`
        return OnPart("", (0.0, 0.0, 0.0) if at is None else self.point("", at, place))

    def point(self, part: str, at: Any, place: Place) -> Vector:
        return self.bench.points.with_own(self.own.get(part, {})).point(at, place)

    def positive(self, given: Given, place: Place, unit: str) -> float:
        number = self.bench.figures.number(given, place)
        if not isnan(number) and not 0 < number <= _LARGEST:
            self.log.add(place, f"{number:g} {unit} is not above 0 and below {_LARGEST:g}", "give a number above 0")
        return number
