"""Parts: a part's own points, its shapes and its meshes together."""

from __future__ import annotations

from collections.abc import Mapping
from math import dist

from assembly.geometry.shapes.checks import LEAST_SIZE
from assembly.model.bench import Bench, Drawn, OwnPoints
from assembly.model.faults import FaultLog, place_text, shown
from assembly.model.figures import Figures, Points
from assembly.model.machine import Part, Shape, Vector
from assembly.model.meshes import read_mesh_entry
from assembly.model.positions import Place
from assembly.model.schema import ThreeNumbers, checked
from assembly.model.seats import read_seats
from assembly.model.shape_tables import AnyShape, kind_of
from assembly.model.shapes import ShapeReader
from assembly.model.tables import LengthTable, PartTable


def read_part_tables(raw: Mapping[str, object], log: FaultLog) -> dict[str, PartTable | None]:
    """Every part as written; None where nothing of it can be read."""
    log.check_names(raw, "part", ("parts",))
    return {name: checked(PartTable, entry, ("parts", name), log, PartTable.keys()) for name, entry in raw.items()}


def read_points(raw: Mapping[str, object], place: Place, figures: Figures) -> dict[str, Vector | None]:
    """Points by name; None where a point is faulty."""
    log = figures.log
    log.check_names(raw, "point", place)
    points: dict[str, Vector | None] = {}
    for name, entry in raw.items():
        before = log.marks
        numbers = checked(ThreeNumbers, entry, (*place, name), log)
        vector = None if numbers is None else figures.vector(numbers, (*place, name))
        points[name] = vector if log.marks == before else None
    return points


def read_own_points(name: str, table: PartTable, shared: Points) -> OwnPoints:
    """The part's own copies of points, with its edited lengths set in the order of the file."""
    place, log = ("parts", name), shared.figures.log
    own = read_points(table.points, (*place, "points"), shared.figures)
    if table.set_length is None:
        return own
    single = not isinstance(table.set_length, list)
    for number, entry in enumerate([table.set_length] if single else table.set_length):
        where: Place = (*place, "set_length") if single else (*place, "set_length", number)
        length = checked(LengthTable, entry, where, log)
        if length is not None:
            own[length.end] = _moved_end(length, where, shared.with_own(own))
    return own


def _moved_end(table: LengthTable, place: Place, points: Points) -> Vector | None:
    """Where the far point lies once it is moved along the line until the length is as wanted."""
    before = points.figures.log.marks
    start = points.point(table.start, (*place, "from"))
    end = points.point(table.end, (*place, "to"))
    wanted = points.figures.size(table.length, (*place, "is"))
    drawn = dist(start, end)
    if drawn < LEAST_SIZE:
        message = f"{shown(table.start)} and {shown(table.end)} are the same place"
        points.figures.log.add(place, message, "a length runs between two different points")
    if points.figures.log.marks > before:
        return None
    x, y, z = (a + (b - a) * wanted / drawn for a, b in zip(start, end, strict=True))
    return x, y, z


def read_part(name: str, table: PartTable, own: OwnPoints, bench: Bench) -> Part | None:
    """One part with all its shapes, or None with its faults noted."""
    place, before = ("parts", name), bench.log.marks
    reader = ShapeReader(bench.points.with_own(own), bench.facet_error)
    shapes: list[Shape] = []
    for number, entry in enumerate(table.meshes):
        shapes += read_mesh_entry(entry, (*place, "meshes", number), reader.points, bench)
    for number, entry in enumerate(table.shapes):
        shapes += _read_shape(entry, (*place, "shapes", number), reader, bench)
    return Part(name, tuple(shapes), table.fixed) if bench.log.marks == before else None


def _read_shape(raw: object, place: Place, reader: ShapeReader, bench: Bench) -> list[Shape]:
    table = checked(AnyShape, raw, place, bench.log)
    if table is None:
        return []
    name = f"{kind_of(table)} {int(place[-1]) + 1}" if table.name is None else table.name
    seats = read_seats(name, table.seat, place, bench)
    solids = reader.meshes(table, place)
    shapes = [Shape(f"{name} {piece}".rstrip(), mesh, seats) for piece, mesh in solids.items()]
    for shape in shapes:
        bench.drawn[f"{place_text(place)} ({shape.name})"] = Drawn(place, shape.mesh, stated=True)
    return shapes
