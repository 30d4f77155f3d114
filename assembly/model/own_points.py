"""What a part says of its own points, what its twin on the other side then has, and where the points lie.

An own point is given by coordinates or by a length from another point. A twin has the own points of its original seen
in the mirror; one that the file writes for the twin itself stands instead.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import dist

from assembly.geometry.shapes.checks import LEAST_SIZE
from assembly.model.edits import Edit, JointEnd
from assembly.model.fault_list import FaultLog, place_text, shown
from assembly.model.file_tables import LengthTable, PartTable, PointTable
from assembly.model.machine import Vector
from assembly.model.mirror import Mirror, flip_point
from assembly.model.positions import Place
from assembly.model.quantities_read import FileNumbers, Points
from assembly.model.reading import Bench, OwnPoints
from assembly.model.schema import ThreeNumbers, checked_table
from assembly.model.ties import Tie


@dataclass(frozen=True, slots=True)
class OwnPoint:
    """One own point of a part as written: coordinates ``at``, or ``length`` mm from ``start``. None where faulty."""

    point: str
    place: Place
    at: Vector | None = None
    start: str = ""
    length: float | None = None
    plus_minus: float = 0.0
    stated: bool = False
    """Whether the tolerance stands beside the length itself."""


def read_points(raw: Mapping[str, object], place: Place, figures: FileNumbers) -> dict[str, Vector | None]:
    """Points by name; None where a point is faulty."""
    log = figures.log
    log.check_names(raw, "point", place)
    points: dict[str, Vector | None] = {}
    for name, entry in raw.items():
        before = log.marks
        numbers = _coordinates(entry, (*place, name), log)
        vector = None if numbers is None else figures.vector(numbers, (*place, name))
        points[name] = vector if log.marks == before else None
    return points


def _coordinates(entry: object, place: Place, log: FaultLog) -> list[float | str] | None:
    """The three numbers of a point, which may stand in a table with what the machine may differ by."""
    if not isinstance(entry, dict):
        return checked_table(ThreeNumbers, entry, place, log)
    table = checked_table(PointTable, entry, place, log)
    return None if table is None else table.at


def points_of_part(name: str, table: PartTable, figures: FileNumbers) -> list[OwnPoint]:
    """The own points of one part's table, points before lengths, each in the order of the file."""
    place: Place = ("parts", name)
    where = (*place, "points")
    points = read_points(table.points, where, figures)
    own_points = [OwnPoint(point, (*where, point), at) for point, at in points.items()]
    single = not isinstance(table.set_length, list)
    entries = [] if table.set_length is None else [table.set_length] if single else table.set_length
    for number, entry in enumerate(entries):
        where = (*place, "set_length") if single else (*place, "set_length", number)
        length = checked_table(LengthTable, entry, where, figures.log)
        if length is not None:
            own_points.append(_length(length, where, figures))
    return own_points


def _length(table: LengthTable, place: Place, figures: FileNumbers) -> OwnPoint:
    before = figures.log.marks
    wanted = figures.size(table.length, (*place, "is"))
    sound = figures.log.marks == before
    if table.plus_minus is not None:
        tolerance = figures.amount(table.plus_minus, (*place, "plus_minus"))
    else:
        tolerance = figures.tolerances.get(str(table.length), 0.0)
    return OwnPoint(
        table.end, place, None, table.start, wanted if sound else None, tolerance, table.plus_minus is not None
    )


def twin_points(original: Iterable[OwnPoint], own: Sequence[OwnPoint], mirror: Mirror) -> list[OwnPoint]:
    """The own points of a twin: those of its ``original`` seen in the mirror, and its ``own`` instead of some."""
    across = (
        replace(
            each,
            point=mirror.other_side(each.point),
            at=flip_point("", each.at),
            start=mirror.other_side(each.start),
        )
        for each in original
    )
    set_here = {each.point for each in own}
    return [*(each for each in across if each.point not in set_here), *own]


def with_tolerance(name: str, table: PartTable, own_points: Sequence[OwnPoint], figures: FileNumbers) -> list[OwnPoint]:
    """``own_points`` of part ``name`` with the ``plus_minus`` of its table; lengths it writes may have their own."""
    place: Place = ("parts", name)
    if table.plus_minus is None:
        return list(own_points)
    stated = figures.amount(table.plus_minus, (*place, "plus_minus"))
    if not any(each.start for each in own_points):
        hint = "give the part a `set_length`, or write it into a dimension: { value = 120, plus_minus = 0.5 }"
        figures.log.add((*place, "plus_minus"), "the part has no length of its own that could have a tolerance", hint)

    return [
        replace(each, plus_minus=stated) if each.start and not (each.stated and each.place[:2] == place) else each
        for each in own_points
    ]


def placed_points(
    part: str, own_points: Iterable[OwnPoint], shared: Points
) -> tuple[dict[str, Vector | None], list[Edit]]:
    """Where a part's own points lie, None where one is faulty, and the edits that put them there."""
    own: dict[str, Vector | None] = {}
    edits: list[Edit] = []
    for own_point in own_points:
        point = own_point.point
        before = own.get(point) or shared.known.get(point)
        own[point] = _moved_end(own_point, shared.with_own(own)) if own_point.start else own_point.at
        at = own[point]
        if at is not None:
            start_at = (own.get(own_point.start) or shared.known.get(own_point.start)) if own_point.start else None
            edits.append(
                Edit(
                    part=part,
                    point=point,
                    own=at,
                    before=before or at,
                    drawn=shared.known.get(point),
                    start=own_point.start,
                    start_at=start_at or (0.0, 0.0, 0.0),
                    length=own_point.length or 0.0,
                    plus_minus=own_point.plus_minus,
                    place=place_text(own_point.place),
                    line=shared.figures.log.line(own_point.place),
                )
            )
    return own, edits


def read_own_points(
    tables: Mapping[str, PartTable | None], bench: Bench
) -> tuple[dict[str, OwnPoints], tuple[Edit, ...]]:
    """Every part's own copies of points, those of the twins too, and the edits that put them there."""
    mirror, figures, log = bench.mirror, bench.figures, bench.log
    own_points = {name: points_of_part(name, entry, figures) if entry else [] for name, entry in tables.items()}
    for name in tables:
        twin = mirror.other_side(name)
        if mirror.has_twin(name):
            own_points[twin] = twin_points(own_points[name], own_points.get(twin, []), mirror)
    own: dict[str, OwnPoints] = {}
    edits: list[Edit] = []
    for name, every in own_points.items():
        table = tables.get(name)
        known = [each for each in every if each.place[:2] == ("parts", name) or not log.has_faults(each.place)]
        points, made = placed_points(
            name, with_tolerance(name, table, known, figures) if table else known, bench.points
        )
        own[name] = {**dict.fromkeys(each.point for each in every), **points}
        edits += made
    return own, tuple(edits)


def with_ends(edits: Iterable[Edit], at: Mapping[str, str], ties: Mapping[str, Tie | None]) -> tuple[Edit, ...]:
    """``edits`` with the joints that sit at their points; ``at``: the point's name for every joint that has one."""
    ends: dict[tuple[str, str], list[JointEnd]] = {}
    for joint, point in at.items():
        tie = ties.get(joint)
        if tie is not None:
            ends.setdefault((tie.first, point), []).append((joint, False))
            ends.setdefault((tie.second, point), []).append((joint, True))
    return tuple(replace(edit, ends=tuple(ends.get((edit.part, edit.point), ()))) for edit in edits)


def _moved_end(own_point: OwnPoint, points: Points) -> Vector | None:
    """Where the far point lies once it is moved along the line until the length is as wanted."""
    log, place = points.figures.log, own_point.place
    before = log.marks
    start = points.point(own_point.start, (*place, "from"))
    end = points.point(own_point.point, (*place, "to"))
    drawn = dist(start, end)
    if drawn < LEAST_SIZE:
        message = f"{shown(own_point.start)} and {shown(own_point.point)} are the same place"
        log.add(place, message, "a length runs between two different points")
    if log.marks > before or own_point.length is None:
        return None
    x, y, z = (a + (b - a) * own_point.length / drawn for a, b in zip(start, end, strict=True))
    return x, y, z
