"""Parts: their shapes and meshes together, and at which rolls a part that can roll is judged."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from assembly.model.fault_list import FaultLog, place_text, shown
from assembly.model.file_tables import ROLL_HINT, PartTable
from assembly.model.machine import Part, RollRule, Shape
from assembly.model.meshes import read_mesh_entry
from assembly.model.positions import Place
from assembly.model.quantities_read import Points
from assembly.model.reading import Bench, Drawn, OwnPoints
from assembly.model.schema import checked_table
from assembly.model.seats import read_seats
from assembly.model.shape_tables import AnyShape, kind_of
from assembly.model.shapes import ShapeReader
from assembly.time_limit import check_time

HALF_TURN = 180.0


def read_roll(given: float | str | None, place: Place, bench: Bench) -> RollRule | float | None:
    """The rule by its name, or the angle in degrees of the clamped part; None if there is none or a fault."""
    if given is None:
        return None
    if isinstance(given, str) and given in set(RollRule):
        return RollRule(given)
    before = bench.log.marks
    if isinstance(given, str) and given.isalpha() and given not in bench.figures.dimensions:
        bench.log.add(place, f"there is no roll {shown(given)}", ROLL_HINT)
    degrees = bench.figures.number(given, place) if bench.log.marks == before else 0.0
    if abs(degrees) > HALF_TURN:
        bench.log.add(place, f"a roll of {degrees:g} degrees is more than half a turn", "give -180 to 180 degrees")
    return degrees if bench.log.marks == before else None


def read_part_tables(raw: Mapping[str, object], log: FaultLog) -> dict[str, PartTable | None]:
    """Every part as written; None where nothing of it can be read."""
    log.check_names(raw, "part", ("parts",))
    return {
        name: checked_table(PartTable, entry, ("parts", name), log, PartTable.keys()) for name, entry in raw.items()
    }


@dataclass(frozen=True, slots=True, eq=False)
class PartRead:
    """A part, and the shapes that each entry of its ``meshes`` and ``shapes`` made."""

    part: Part
    meshes: tuple[tuple[Shape, ...], ...]
    shapes: tuple[tuple[Shape, ...], ...]


def read_part(name: str, table: PartTable, own: OwnPoints, bench: Bench) -> PartRead | None:
    """One part with all its shapes, or None with its faults noted."""
    place, before = ("parts", name), bench.log.marks
    points = bench.points.with_own(own)

    def read(key: str, entries: list[Any]) -> tuple[tuple[Shape, ...], ...]:
        return tuple(read_entry(raw, (*place, key, number), points, bench) for number, raw in enumerate(entries))

    meshes, shapes = read("meshes", table.meshes), read("shapes", table.shapes)
    every = tuple(shape for entry in (*meshes, *shapes) for shape in entry)
    part = Part(name, every, table.fixed, read_roll(table.roll, (*place, "roll"), bench))
    return PartRead(part, meshes, shapes) if bench.log.marks == before else None


def read_entry(raw: object, place: Place, points: Points, bench: Bench) -> tuple[Shape, ...]:
    """The shapes of one entry of ``meshes`` or ``shapes``; none where faults were noted."""
    check_time()
    if place[2] == "meshes":
        return tuple(read_mesh_entry(raw, place, points, bench))
    return tuple(_read_shape(raw, place, ShapeReader(points, bench.facet_error), bench))


def _read_shape(raw: object, place: Place, reader: ShapeReader, bench: Bench) -> list[Shape]:
    table = checked_table(AnyShape, raw, place, bench.log)
    if table is None:
        return []
    name = f"{kind_of(table)} {int(place[-1]) + 1}" if table.name is None else table.name
    seats = read_seats(name, table.bearing_of, place, bench)
    solids = reader.meshes(table, place)
    lines = reader.round_about(table, solids, place) if solids else {}
    balls = reader.balls(table, place) if solids else {}
    shapes = [
        Shape(f"{name} {piece}".rstrip(), mesh, seats, lines.get(piece), ball=balls.get(piece), entry=place)
        for piece, mesh in solids.items()
    ]
    for shape in shapes:
        bench.drawn[f"{place_text(place)} ({shape.name})"] = Drawn(place, shape.mesh, stated=True)
    return shapes
