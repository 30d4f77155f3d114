"""A mechanism file read again with one number changed, as numbers: all but the solids, and those one by one when asked.

Reading takes milliseconds where no solid is made and nothing is put together, so that the derivative of what a file
says over each of its numbers is a difference of two readings. A solid is made again only where its entry uses a name
whose value has changed; one from a mesh file is the one that was read, placed anew.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from math import isnan
from typing import Any

import numpy as np

from assembly.errors import Fault, InputError
from assembly.geometry.mesh import Floats, Mesh
from assembly.model.cable_reader import cables_of_both_sides, read_cables, with_cables
from assembly.model.clearance_rules import read_clearance
from assembly.model.dimensions import changed_dimensions, read_dimensions
from assembly.model.fault_list import FaultLog
from assembly.model.file_tables import FileTable, JointTable, PartTable
from assembly.model.joint_reader import read_drive, read_joint
from assembly.model.machine import ClearanceRules, Drive, Joint, Machine, Shape
from assembly.model.measure import Measure
from assembly.model.measure_reader import read_measures, with_twins
from assembly.model.meshes import placement
from assembly.model.own_points import read_own_points
from assembly.model.parameters import Parameter, ParameterKind, entries, with_numbers
from assembly.model.parts import read_entry, read_part_tables
from assembly.model.positions import Place, Positions
from assembly.model.reader import bench_of, file_table, present
from assembly.model.reading import Bench, OwnPoints
from assembly.model.stop_reader import read_stops
from assembly.model.stop_solids import stop_solid
from assembly.model.survey_reader import read_again
from assembly.model.ties import read_joint_tables
from assembly.model.travel_stop import TravelStop
from assembly.model.twins import OtherSide
from assembly.model.wheel import Wheels
from assembly.model.wheel_reader import read_running
from assembly.model.wheels_in_place import wheels_read_again

_NAME = re.compile(r"[^\W\d]\w*")


@dataclass(frozen=True, slots=True, eq=False)
class _Tables:
    """One file's tables, checked."""

    file: FileTable
    joints: Mapping[str, JointTable]
    parts: Mapping[str, PartTable]


@dataclass(frozen=True, eq=False)
class Reading:
    """What a file says besides its solids: every joint, drive, stop, measure and rule, those of the other side too."""

    bench: Bench
    own: Mapping[str, OwnPoints]
    joints: Mapping[str, Joint]
    drives: Mapping[str, Drive]
    stops: Mapping[str, TravelStop]
    clearance: ClearanceRules
    measures: Mapping[str, Measure]
    tables: _Tables
    observed: Mapping[str, Measure]
    """What the readings of the file are of."""
    running: Wheels
    _known: dict[str, frozenset[str]] = field(default_factory=dict)
    _drawn: dict[Place, tuple[Shape, ...]] = field(default_factory=dict)

    @cached_property
    def other_side(self) -> OtherSide:
        """What makes twins of this reading."""
        return OtherSide(self.bench, self.own, self.tables.parts, self.tables.joints)

    def changed_names(self, base: Reading) -> frozenset[str]:
        """Names of dimensions and points, parts' own ones too, that are not as in ``base``."""
        if "changed" not in self._known:
            dimensions, before = self.bench.figures.dimensions, base.bench.figures.dimensions
            named = [(self.bench.points.known, base.bench.points.known)]
            named += [(points, base.own[part]) for part, points in self.own.items()]
            names = {name for name, value in dimensions.items() if value != before[name]}
            names |= {name for now, old in named for name, at in now.items() if at != old.get(name)}
            across = map(self.bench.mirror.other_side, names)
            self._known["changed"] = frozenset(names | set(across))
        return self._known["changed"]

    def drawn(self, part: str, entry: Place, raw: object) -> tuple[Shape, ...]:
        """The shapes of an entry as ``part`` reads it, made once for both sides where these are alike."""
        owner = str(entry[1])
        key = entry if owner == part or not self.other_side.changed(owner) else (*entry, part)
        if key not in self._drawn:
            view = self.view(part, entry)
            self._drawn[key] = read_entry(raw, entry, view.points, view)
            view.log.raise_faults()
        return self._drawn[key]

    def view(self, part: str, entry: Place) -> Bench:
        """The bench by which ``part`` reads its ``entry``: where another part wrote it, as seen in the mirror."""
        owner = str(entry[1])
        if owner != part:
            return self.other_side.bench_across(self.other_side.own_of(owner))
        points = self.bench.points.with_own(self.own[part])
        return Bench(
            log=self.bench.log,
            figures=self.bench.figures,
            points=points,
            mirror=self.bench.mirror,
            folder=self.bench.folder,
            facet_error=self.bench.facet_error,
            part_names=self.bench.part_names,
            ties=self.bench.ties,
        )


@dataclass(eq=False)
class Perturbations:
    """Readings of the file of one machine. Raises InputError for a machine that no file describes."""

    machine: Machine
    _shapes: dict[tuple[Place, float, str, str], Mesh | None] = field(default_factory=dict)
    _names: dict[Place, frozenset[str]] = field(default_factory=dict)
    """Every word that an entry uses, by its place."""

    @cached_property
    def _tables(self) -> _Tables:
        if self.machine.origin is None:
            raise InputError(Fault("this machine was not read from a file", hint="load one with assembly.load(FILE)"))
        source, log = self.machine.origin.source, self._log()
        file = file_table(source, log, self.machine.moved)
        changed = changed_dimensions(file.dimensions, self.machine.changed)
        joints, parts = read_joint_tables(file.joints, log), read_part_tables(file.parts, log)
        return _Tables(file.model_copy(update={"dimensions": changed}), present(joints), present(parts))

    @cached_property
    def _positions(self) -> Positions:
        return Positions(self.machine.origin.source.text if self.machine.origin else "")

    def _log(self) -> FaultLog:
        return FaultLog(self.machine.file, self._positions)

    @cached_property
    def base(self) -> Reading:
        """The file as it is."""
        return self.reading({})

    @cached_property
    def parameters(self) -> tuple[Parameter, ...]:
        """Every number of the file that can be changed one at a time."""
        tables, found = self._tables, []
        raw = {"dimensions": tables.file.dimensions, "points": tables.file.points, "parts": tables.file.parts}
        for name, kind, place, given in entries(raw):
            value = self._value(kind, place, given)
            if not isnan(value):
                found.append(Parameter(name, kind, place, value, isinstance(given, str)))
        return tuple(found)

    def _value(self, kind: ParameterKind, place: Place, given: Any) -> float:
        if kind is ParameterKind.DIMENSION:
            return self.base.bench.figures.dimensions[str(place[1])] or 0.0
        return self.base.bench.figures.number(given, place)

    def reading(self, numbers: Mapping[Place, float | str]) -> Reading:
        """The file with other ``numbers``, or arithmetic, at some places. InputError where it cannot be read so."""
        log, tables = self._log(), self._changed(numbers)
        dimensions = read_dimensions(tables.file.dimensions, log)
        bench = bench_of(tables.file, dimensions, (tables.joints, tables.parts), self._folder, log)
        own, _ = read_own_points(tables.parts, bench)
        drawn = {name: read_joint(name, entry, own, bench) for name, entry in tables.joints.items()}
        drives = {name: read_drive(name, entry, bench) for name, entry in tables.file.drives.items()}
        stops = read_stops(tables.file.stops, drives, drawn, bench)
        clearance = read_clearance(tables.file.clearance, bench)
        measures = read_measures(tables.file.measures, own, bench)
        cables = read_cables(tables.file.cables, own, bench)
        log.raise_faults()
        other_side = OtherSide(bench, own, tables.parts, tables.joints)
        joints = other_side.joints(present(drawn))
        system = cables_of_both_sides(cables, tables.file.splitters, other_side)
        measured = with_cables(with_twins(present(measures), other_side), system, bench)
        observed = read_again(tables.file.measured, own, bench)
        running = wheels_read_again(
            read_running(tables.file, drives, own, bench), other_side, self.machine.running.road.rests_on
        )
        log.raise_faults()
        return Reading(bench, own, joints, present(drives), stops, clearance, measured, tables, observed, running)

    @property
    def _folder(self) -> Any:
        return self.machine.origin.folder if self.machine.origin else None

    def _changed(self, numbers: Mapping[Place, float | str]) -> _Tables:
        tables = self._tables
        if not numbers:
            return tables
        raw = {"dimensions": tables.file.dimensions, "points": tables.file.points, "parts": tables.file.parts}
        made = with_numbers(raw, numbers)
        parts = dict(tables.parts)
        for part in {str(place[1]) for place in numbers if place[0] == "parts"}:
            written = made["parts"][part]
            update = {key: written[key] for key in ("points", "set_length") if key in written}
            parts[part] = parts[part].model_copy(update=update)
        update = {"dimensions": made["dimensions"], "points": made["points"]}
        return _Tables(tables.file.model_copy(update=update), tables.joints, parts)

    def mesh(self, reading: Reading, at: tuple[Place, float], part: str, shape: Shape) -> Mesh | None:
        """The solid ``shape`` of ``part`` as ``reading`` draws it; None where that is as it was.

        ``at`` is the one number that the reading has otherwise: it is made once. InputError where it cannot be made.
        """
        key = (*at, part, shape.name)
        if key not in self._shapes:
            self._shapes[key] = self._mesh(reading, part, shape)
        return self._shapes[key]

    def drawn_again(self, part: str, shape: Shape) -> None:
        """Draw the entry of ``shape`` of ``part`` as the file has it, for the sake of what drawing it notes."""
        if part not in self.base.stops and shape.entry and shape.entry[2] != "meshes":
            view = self.base.view(part, shape.entry)
            read_entry(self._written(shape.entry), shape.entry, view.points, view)

    def _mesh(self, reading: Reading, part: str, shape: Shape) -> Mesh | None:
        if part in reading.stops:
            before, stop = self.base.stops[part], reading.stops[part]
            return None if stop == before or stop.height is None else stop_solid(stop, 0.0, stop.height)
        if not shape.entry or not self._uses_changed(reading, part, shape.entry):
            return None
        raw, view = self._written(shape.entry), reading.view(part, shape.entry)
        if shape.entry[2] == "meshes":
            return self._placed_anew(raw, part, shape, view)
        made = reading.drawn(part, shape.entry, raw)
        mirrored = str(shape.entry[1]) != part
        across = self.base.bench.mirror.other_side if mirrored else str
        found = next((each.mesh for each in made if across(each.name) == shape.name), None)
        return found.mirrored() if found is not None and mirrored else found

    def _placed_anew(self, raw: Any, part: str, shape: Shape, view: Bench) -> Mesh | None:
        """A mesh file's solid, moved as its placement moves."""
        old_view = self.base.view(part, shape.entry)
        old = placement(raw, shape.entry, old_view.points, old_view)
        new = placement(raw, shape.entry, view.points, view)
        view.log.raise_faults()
        if old is None or new is None:
            return None
        anew = new @ np.linalg.inv(old)
        mirrored = str(shape.entry[1]) != part
        return Mesh(_moved(shape.mesh.vertices, anew, mirrored=mirrored), shape.mesh.faces, shape.mesh.surface_error)

    def _written(self, entry: Place) -> Any:
        _, owner, key, number = entry
        return getattr(self._tables.parts[str(owner)], str(key))[number]

    def _uses_changed(self, reading: Reading, part: str, entry: Place) -> bool:
        """Whether an entry names a dimension or a point that is not as it was, as its part reads it."""
        base = self.base
        if reading.bench.facet_error != base.bench.facet_error:
            return True
        if entry not in self._names:
            self._names[entry] = frozenset(_names(self._written(entry)))
        used = self._names[entry] & reading.changed_names(base)
        if used & reading.bench.figures.dimensions.keys():
            return True
        return bool(used) and any(
            reading.view(part, entry).points.known[name] != base.view(part, entry).points.known.get(name)
            for name in used
            if name in reading.view(part, entry).points.known
        )


def _moved(vertices: Floats, pose: Floats, *, mirrored: bool) -> Floats:
    flip = np.array([1.0, -1.0 if mirrored else 1.0, 1.0])
    return np.asarray(((vertices * flip) @ pose[:3, :3].T + pose[:3, 3]) * flip)


def _names(value: Any) -> Iterator[str]:
    """Every word in the texts of a value of the file, and each text as a whole: a point's name may be any text."""
    if isinstance(value, str):
        yield value
        yield from _NAME.findall(value)
    elif isinstance(value, dict):
        for each in value.values():
            yield from _names(each)
    elif isinstance(value, list | tuple):
        for each in value:
            yield from _names(each)
