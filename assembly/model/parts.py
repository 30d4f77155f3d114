"""Parts: their shapes and their meshes together."""

from __future__ import annotations

from collections.abc import Mapping

from assembly.model.bench import Bench, Drawn, OwnPoints
from assembly.model.faults import FaultLog, place_text
from assembly.model.machine import Part, Shape
from assembly.model.meshes import read_mesh_entry
from assembly.model.positions import Place
from assembly.model.rolls import read_roll
from assembly.model.schema import checked
from assembly.model.seats import read_seats
from assembly.model.shape_tables import AnyShape, kind_of
from assembly.model.shapes import ShapeReader
from assembly.model.tables import PartTable


def read_part_tables(raw: Mapping[str, object], log: FaultLog) -> dict[str, PartTable | None]:
    """Every part as written; None where nothing of it can be read."""
    log.check_names(raw, "part", ("parts",))
    return {name: checked(PartTable, entry, ("parts", name), log, PartTable.keys()) for name, entry in raw.items()}


def read_part(name: str, table: PartTable, own: OwnPoints, bench: Bench) -> Part | None:
    """One part with all its shapes, or None with its faults noted."""
    place, before = ("parts", name), bench.log.marks
    reader = ShapeReader(bench.points.with_own(own), bench.facet_error)
    shapes: list[Shape] = []
    for number, entry in enumerate(table.meshes):
        shapes += read_mesh_entry(entry, (*place, "meshes", number), reader.points, bench)
    for number, entry in enumerate(table.shapes):
        shapes += _read_shape(entry, (*place, "shapes", number), reader, bench)
    roll = read_roll(table.roll, (*place, "roll"), bench)
    return Part(name, tuple(shapes), table.fixed, roll) if bench.log.marks == before else None


def _read_shape(raw: object, place: Place, reader: ShapeReader, bench: Bench) -> list[Shape]:
    table = checked(AnyShape, raw, place, bench.log)
    if table is None:
        return []
    name = f"{kind_of(table)} {int(place[-1]) + 1}" if table.name is None else table.name
    seats = read_seats(name, table.seat, place, bench)
    solids = reader.meshes(table, place)
    line = reader.round_about(table, place) if solids else None
    shapes = [Shape(f"{name} {piece}".rstrip(), mesh, seats, line) for piece, mesh in solids.items()]
    for shape in shapes:
        bench.drawn[f"{place_text(place)} ({shape.name})"] = Drawn(place, shape.mesh, stated=True)
    return shapes
