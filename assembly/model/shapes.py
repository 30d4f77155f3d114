"""From the table of a shape to its meshes: measures are read first, then handed to geometry in one call."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import partial, singledispatchmethod
from typing import Any

import numpy as np

from assembly.errors import ShapeError
from assembly.geometry import shapes as geometry
from assembly.geometry.lost_pieces import cut_soundly
from assembly.geometry.mesh import Mesh
from assembly.geometry.rotations import rotation_about_axes
from assembly.geometry.solids import union
from assembly.model.fault_list import FaultLog
from assembly.model.free_turn import free_turn_of, own_line
from assembly.model.machine import RoundAbout, Vector
from assembly.model.positions import Place
from assembly.model.quantities_read import FileNumbers, Given, Points
from assembly.model.schema import StrictTable
from assembly.model.shape_tables import (
    BoxTable,
    ConeTable,
    HexagonTable,
    HoleTable,
    PlateTable,
    RingTable,
    RodEndTable,
    RodTable,
    SectionTable,
    ShapeTable,
    SlotTable,
    SphereTable,
    TubeTable,
    TurnedTable,
)

Call = Callable[[], Mesh | geometry.RodEnd]
"""Makes the shape once all its measures are known to be sound."""

_ROD_END_DIMENSIONS = (
    "eye_diameter",
    "housing_width",
    "ball_width",
    "ball_face",
    "bore",
    "length",
    "shank_diameter",
)


@dataclass(frozen=True, slots=True)
class ShapeReader:
    """Makes the shapes of one part, with the part's own points."""

    points: Points
    facet_error: float

    @property
    def _figures(self) -> FileNumbers:
        return self.points.figures

    @property
    def _log(self) -> FaultLog:
        return self.points.figures.log

    def meshes(self, table: ShapeTable, place: Place) -> Mapping[str, Mesh]:
        """The solids of a shape by name, "" where it is a single one; none where faults were noted.

        What is ``joined`` is added first and what is ``cut`` is taken away from all of it, as one drills after welding.
        """
        before = self._log.marks
        make = self._call(table, place)
        joined = self._tools(table.joined, (*place, "joined"))
        cut = self._tools(table.cut, (*place, "cut"))
        free = free_turn_of(table, self.points, place)
        if self._log.marks > before or self._log.is_full:
            return {}
        try:
            made = make()
            solids = dict(made.solids) if isinstance(made, geometry.RodEnd) else {"": made}
            if joined:
                solids = {"": union([*solids.values(), *joined])}
            if cut:
                solids = {name: cut_soundly(solid, cut) for name, solid in solids.items()}
            if free is not None and all(len(solid.faces) for solid in solids.values()):
                solids = free.swept(solids, self.facet_error)
        except ShapeError as error:
            self._log.add_fault(place, error.faults[0])
            return {}
        if any(len(solid.faces) == 0 for solid in solids.values()):
            self._log.add((*place, "cut"), "the cuts take the whole shape away", "leave some of it")
            return {}
        return solids

    def round_about(self, table: ShapeTable, solids: Iterable[str], place: Place) -> Mapping[str, RoundAbout]:
        """What ``solids`` of a shape are round about by the way they are made, by names; none that is not shown."""
        free = free_turn_of(table, self.points, place)
        if free is not None:
            return dict.fromkeys(solids, free.line)
        if table.cut or table.joined:
            return {}
        if isinstance(table, RodEndTable):
            line, name = own_line(table, self.points, place), "shank"
        else:
            line, name = self._round_about(table, place), ""
        return {} if line is None else {name: line}

    def _round_about(self, table: ShapeTable, place: Place) -> RoundAbout | None:
        """What a shape of one solid is round about."""
        if isinstance(table, SphereTable):
            return RoundAbout(self.points.point(table.sphere, (*place, "sphere")), None)
        is_round = isinstance(table, RodTable | TubeTable) and table.diameter is not None
        if is_round or isinstance(table, TurnedTable | RingTable | ConeTable):
            return own_line(table, self.points, place)
        return None

    def balls(self, table: ShapeTable, place: Place) -> Mapping[str, Vector]:
        """The middles in mm of those solids of a shape that are balls by the way they are made, by their names."""
        if isinstance(table, SphereTable):
            return {"": self.points.point(table.sphere, (*place, "sphere"))}
        if isinstance(table, RodEndTable) and not table.joined:
            return {"ball": self.points.point(table.rod_end, (*place, "rod_end"))}
        return {}

    def _tools(self, tables: list[ShapeTable], place: Place) -> list[Mesh]:
        tools = []
        for number, table in enumerate(tables):
            if table.bearing_of:
                hint = "write `bearing_of` in the shape itself"
                self._log.add(
                    (*place, number, "bearing_of"), "a shape that is cut away or joined is no bearing of its own", hint
                )
            if table.free_turn or table.free_turn_about is not None:
                hint = "write `free_turn` in the shape itself, which then turns with all that is joined and cut"
                self._log.add((*place, number), "a shape that is cut away or joined does not turn by itself", hint)
                continue
            solids = list(self.meshes(table, (*place, number)).values())
            if solids:
                tools.append(solids[0] if len(solids) == 1 else union(solids))
        return tools

    @singledispatchmethod
    def _call(self, table: StrictTable, place: Place) -> Call:
        raise TypeError(f"{table.called} at {place} has no geometry")

    @_call.register
    def _(self, table: BoxTable, place: Place) -> Call:
        size = [self._figures.size(each, (*place, "size", k)) for k, each in enumerate(table.size)]
        turned = self._figures.vector(table.rotated, (*place, "rotated"))
        centre = self.points.point(table.box, (*place, "box"))
        return lambda: geometry.box(centre, size, rotation=rotation_about_axes(turned))

    @_call.register
    def _(self, table: RodTable, place: Place) -> Call:
        return partial(geometry.rod, self._corners(table.rod, (*place, "rod")), **self._section(table, place))

    @_call.register
    def _(self, table: TubeTable, place: Place) -> Call:
        wall = self._figures.size(table.wall, (*place, "wall"))
        corners = self._corners(table.tube, (*place, "tube"))
        return partial(geometry.tube, corners, wall=wall, **self._section(table, place))

    @_call.register
    def _(self, table: PlateTable, place: Place) -> Call:
        corners = self._corners(table.plate, (*place, "plate"))
        thickness = self._figures.size(table.thickness, (*place, "thickness"))
        holes = [self._hole(hole, (*place, "holes", k)) for k, hole in enumerate(table.holes)]
        slots = [self._slot(slot, (*place, "slots", k)) for k, slot in enumerate(table.slots)]
        made: dict[str, Any] = {"side": table.side, "holes": holes, "slots": slots, "facet_error": self.facet_error}
        missing = [key for key in ("at", "normal", "along") if getattr(table, key) is None]
        flat = len(missing) < 3
        if flat and missing:
            self._log.add(place, f"the plane of the plate lacks {' and '.join(missing)}", "give at, normal and along")
        if any(len(corner) != (2 if flat else 3) for corner in corners):
            hint = "write [u, v] everywhere, with at, normal and along; or points in space everywhere, without them"
            self._log.add((*place, "plate"), "the corners do not suit the way the plate is placed", hint)
        if table.at is None or table.normal is None or table.along is None:
            return partial(geometry.plate_through, corners, thickness, **made)
        at = self.points.point(table.at, (*place, "at"))
        normal = self.points.direction(table.normal, (*place, "normal"))
        along = self.points.direction(table.along, (*place, "along"))
        return partial(geometry.plate, corners, thickness, at=at, normal=normal, along=along, **made)

    @_call.register
    def _(self, table: SphereTable, place: Place) -> Call:
        diameter = self._figures.size(table.diameter, (*place, "diameter"))
        centre = self.points.point(table.sphere, (*place, "sphere"))
        return partial(geometry.sphere, centre, diameter, facet_error=self.facet_error)

    @_call.register
    def _(self, table: ConeTable, place: Place) -> Call:
        diameters = [self._figures.amount(each, (*place, "diameters", k)) for k, each in enumerate(table.diameters)]
        ends = self._corners(table.cone, (*place, "cone"))
        return partial(geometry.cone, ends, diameters, facet_error=self.facet_error)

    @_call.register
    def _(self, table: RingTable, place: Place) -> Call:
        return partial(
            geometry.ring,
            self.points.point(table.ring, (*place, "ring")),
            self.points.direction(table.axis, (*place, "axis")),
            diameter=self._figures.size(table.diameter, (*place, "diameter")),
            thickness=self._figures.size(table.thickness, (*place, "thickness")),
            facet_error=self.facet_error,
        )

    @_call.register
    def _(self, table: TurnedTable, place: Place) -> Call:
        profile = self._corners(table.turned, (*place, "turned"))
        at = self.points.point(table.at, (*place, "at"))
        axis = self.points.direction(table.axis, (*place, "axis"))
        return partial(geometry.turned, profile, at, axis, facet_error=self.facet_error)

    @_call.register
    def _(self, table: HexagonTable, place: Place) -> Call:
        ends = self._corners(table.hexagon, (*place, "hexagon"))
        width = self._figures.size(table.across_flats, (*place, "across_flats"))
        bore = self._optional_size(table, "bore", place)
        return partial(geometry.hexagon, ends, width, bore=bore, facet_error=self.facet_error)

    @_call.register
    def _(self, table: RodEndTable, place: Place) -> Call:
        own = {name: self._optional_size(table, name, place) for name in _ROD_END_DIMENSIONS}
        centre = self.points.point(table.rod_end, (*place, "rod_end"))
        shank = self.points.direction(table.shank, (*place, "shank"))
        bolt = self.points.direction(table.bolt, (*place, "bolt"))
        return lambda: geometry.rod_end(centre, shank, bolt, table.size, facet_error=self.facet_error, **own)

    def _optional_size(self, table: StrictTable, key: str, place: Place) -> float | None:
        given = getattr(table, key)
        return None if given is None else self._figures.size(given, (*place, key))

    def _corners(self, given: list[Any], place: Place) -> list[tuple[float, ...]]:
        return [self._corner(corner, (*place, number)) for number, corner in enumerate(given)]

    def _corner(self, given: str | list[Given], place: Place) -> tuple[float, ...]:
        """A point in space, or (u, v) where two numbers are given."""
        if isinstance(given, str) or len(given) == 3:
            return self.points.point(given, place)
        return tuple(self._figures.coordinate(each, (*place, k)) for k, each in enumerate(given))

    def _section(self, table: SectionTable, place: Place) -> dict[str, Any]:
        section: dict[str, Any] = {key: self._optional_size(table, key, place) for key in ("diameter", "square")}
        if table.rectangle is not None:
            given = enumerate(table.rectangle)
            section["rectangle"] = [self._figures.size(each, (*place, "rectangle", k)) for k, each in given]
        if table.up is not None:
            section["up"] = self.points.direction(table.up, (*place, "up"))
        if isinstance(table.bend, list):
            bends = enumerate(table.bend)
            section["bend"] = [self._figures.size(each, (*place, "bend", k)) for k, each in bends]
        elif table.bend is not None:
            section["bend"] = self._figures.size(table.bend, (*place, "bend"))
        return {**section, "facet_error": self.facet_error}

    def _hole(self, hole: HoleTable, place: Place) -> geometry.Hole:
        middle = np.array(self._corner(hole.at, (*place, "at")))
        return geometry.Hole(middle, self._figures.size(hole.diameter, (*place, "diameter")))

    def _slot(self, slot: SlotTable, place: Place) -> geometry.Slot:
        start, end = (
            np.array(self._corner(each, (*place, key))) for each, key in ((slot.start, "from"), (slot.end, "to"))
        )
        return geometry.Slot(start, end, self._figures.size(slot.width, (*place, "width")))
