"""Shapes that stand any way round about a line: nuts, bolt heads, rods of which nobody sets how they are turned."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from assembly.geometry import shapes as geometry
from assembly.geometry.mesh import Mesh
from assembly.geometry.rotations import unit
from assembly.model.machine import RoundAbout
from assembly.model.positions import Place
from assembly.model.quantities_read import Given, Points
from assembly.model.shape_tables import (
    ConeTable,
    HexagonTable,
    RingTable,
    RodEndTable,
    RodTable,
    ShapeTable,
    TubeTable,
    TurnedTable,
)

NO_LINE = "write free_turn_about = [p, q], two points of the line that it turns about"


@dataclass(frozen=True, slots=True)
class FreeTurn:
    """The line that a shape turns about, and the diameter in mm of the round hole that stays in it, 0 for none."""

    line: RoundAbout
    bore: float = 0.0

    def swept(self, solids: Mapping[str, Mesh], facet_error: float) -> dict[str, Mesh]:
        """The room that each of ``solids`` takes at every turn. ShapeError where nothing is left of one."""
        at, along = self.line.at, self.line.along
        return {
            name: geometry.at_every_turn(mesh, at, along or (0.0, 0.0, 1.0), bore=self.bore, facet_error=facet_error)
            for name, mesh in solids.items()
        }


def free_turn_of(table: ShapeTable, points: Points, place: Place) -> FreeTurn | None:
    """How a shape may turn; None where it stands as drawn, or with its faults noted."""
    if not table.free_turn and table.free_turn_about is None:
        return None
    log, before = points.figures.log, points.figures.log.marks
    if table.free_turn_about is not None:
        line = straight(points, table.free_turn_about, (*place, "free_turn_about"))
    else:
        line = own_line(table, points, place)
    if line is None:
        if log.marks == before:
            log.add((*place, "free_turn"), f"{table.called} has no one line of its own to turn about", NO_LINE)
        return None
    drilled = isinstance(table, HexagonTable) and table.free_turn_about is None and not (table.cut or table.joined)
    bore = table.bore if isinstance(table, HexagonTable) and drilled else None
    return FreeTurn(line, 0.0 if bore is None else points.figures.size(bore, (*place, "bore")))


def own_line(table: ShapeTable, points: Points, place: Place) -> RoundAbout | None:
    """The line that a shape is drawn along; None where it has none."""
    if isinstance(table, HexagonTable):
        return straight(points, table.hexagon, place)
    if isinstance(table, RodTable | TubeTable):
        return straight(points, table.rod if isinstance(table, RodTable) else table.tube, place)
    if isinstance(table, ConeTable):
        return straight(points, table.cone, place)
    given = {
        RodEndTable: ("rod_end", "shank"),
        TurnedTable: ("at", "axis"),
        RingTable: ("ring", "axis"),
    }.get(type(table))
    if given is None:
        return None
    at, along = (getattr(table, key) for key in given)
    return RoundAbout(points.point(at, (*place, given[0])), points.direction(along, (*place, given[1])))


def straight(points: Points, ends: Sequence[str | Sequence[Given]], place: Place) -> RoundAbout | None:
    """The line of two points; None for more, or for two in one place."""
    if len(ends) != 2:
        return None
    start, end = (np.array(points.point(each, place)) for each in ends)
    if not np.linalg.norm(end - start) > 0:
        return None  # or a point is faulty, which is noted
    x, y, z = unit(end - start).tolist()
    return RoundAbout((float(start[0]), float(start[1]), float(start[2])), (x, y, z))
