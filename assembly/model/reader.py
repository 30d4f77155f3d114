"""From a mechanism file to a Machine, or to one InputError with every fault of the file."""

from __future__ import annotations

import gc
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from pathlib import Path
from types import MappingProxyType
from typing import TypeVar

from assembly.errors import InputError
from assembly.model.allowed_reader import read_allowed
from assembly.model.cable_reader import cables_of_both_sides, read_cables, with_cables
from assembly.model.clearance_rules import check_held, read_clearance
from assembly.model.dimensions import filed_dimensions
from assembly.model.fault_list import FaultLog, closest, shown
from assembly.model.file_tables import DEFAULT_FACET_ERROR, FileTable, JointTable, PartTable
from assembly.model.joint_reader import read_drive, read_joint
from assembly.model.line_numbers import lines_of
from assembly.model.load_reader import Holders, read_load_cases
from assembly.model.machine import DimensionValue, Edit, Joint, Machine, Part
from assembly.model.masses import with_load_heights
from assembly.model.measure import Measure
from assembly.model.measure_reader import MeasureRead, read_measures, with_twins
from assembly.model.meshes import check_sizes
from assembly.model.mirror import flip_point, read_mirror
from assembly.model.own_points import read_own_points, read_points, with_ends
from assembly.model.parameters import with_numbers
from assembly.model.parts import PartRead, read_part, read_part_tables
from assembly.model.play_reader import notes_of_play
from assembly.model.positions import Place, Positions
from assembly.model.quantities_read import FileNumbers, Points
from assembly.model.reading import Bench, OwnPoints
from assembly.model.rod_reader import read_rods, rods_in_place
from assembly.model.schema import checked_table
from assembly.model.seats import with_left_seats
from assembly.model.source import Origin, Source, source_from_text, source_of, tables_of
from assembly.model.stop_reader import read_stops
from assembly.model.stop_solids import with_stops
from assembly.model.survey_reader import read_survey
from assembly.model.ties import points_of_joints, read_joint_tables, read_ties
from assembly.model.twins import OtherSide, originals
from assembly.model.weight_reader import read_weights
from assembly.model.wheel_reader import read_running
from assembly.model.wheels_in_place import wheels_in_place
from assembly.printable import visible
from assembly.record import DimensionEntry
from assembly.time_limit import extra_time

FORMAT = 1

Value = TypeVar("Value")


def read_machine(path: Path) -> Machine:
    """The machine in the mechanism file at ``path``. InputError holds every fault that was found."""
    with extra_time():
        return _read(Origin(source_of(path), path.parent), {}, {})


def machine_from_text(text: str, folder: Path, name: str = "machine.toml") -> Machine:
    """The machine that ``text`` describes; mesh files are looked for in ``folder``. InputError as ``read_machine``."""
    return _read(Origin(source_from_text(text, name), folder), {}, {})


def _read(origin: Origin, changed: Mapping[str, DimensionValue], moved: Mapping[Place, float]) -> Machine:
    """The machine of a file with other values of some dimensions and other numbers at some places."""
    faulty: InputError | None = None
    with _no_looking_for_rings():
        try:
            made = _machine(origin, changed, moved)
        except InputError as error:
            faulty = error.with_traceback(None)  # which keeps all that was read alive, to be looked through for rings
    if faulty is not None:
        raise faulty
    return replace(made, changed=dict(changed), moved=dict(moved), origin=origin, reread=partial(_read, origin))


@contextmanager
def _no_looking_for_rings() -> Iterator[None]:
    """Reading makes many containers and hardly a ring: to look for rings again and again takes a tenth of it."""
    before = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if before:
            gc.enable()


def _machine(origin: Origin, changed: Mapping[str, DimensionValue], moved: Mapping[Place, float]) -> Machine:
    source, log = origin.source, FaultLog(origin.source.label, Positions(origin.source.text))
    table = file_table(source, log, moved)
    dimensions = filed_dimensions(table, changed, log, as_filed=not changed and not moved)
    joint_tables, part_tables = read_joint_tables(table.joints, log), read_part_tables(table.parts, log)
    bench = bench_of(table, dimensions, (joint_tables, part_tables), origin.folder, log)
    own, edits = _own_points(part_tables, bench)
    drawn_parts, drawn_joints = _drawn(part_tables, joint_tables, own, bench)
    drives = {name: read_drive(name, entry, bench) for name, entry in table.drives.items()}
    stops = read_stops(table.stops, drives, drawn_joints, bench)
    loads = read_load_cases(table.loads, Holders(drives, stops), own, bench)
    measures = read_measures(table.measures, own, bench)
    running, clearance = read_running(table, drives, own, bench), read_clearance(table.clearance, bench)
    may_change = read_allowed(table.dimensions, bench.figures, as_filed=not changed and not moved)
    other_side = _other_side(own, part_tables, joint_tables, bench)
    parts, joints = _complete(other_side, present(drawn_parts), present(drawn_joints))
    machine = Machine(
        name=table.name or visible(origin.folder.resolve().name or source.name),
        parts=parts,
        joints=joints,
        drives=present(drives),
        stops=stops,
        clearance=clearance,
        points=present(bench.points.known),
        dimensions=present(dimensions),
        loads=present(loads),
        measures=_measured(present(measures), other_side),
        running=wheels_in_place(running, parts, joints, present(drives), other_side),
        rods=rods_in_place(read_rods(table.rods, bench), joints, bench),
        weights=read_weights(table.weights, drives, own, bench),
        findings=(*bench.findings, *notes_of_play(joints)),
        edits=with_ends(edits, points_of_joints(joint_tables, bench.mirror), bench.ties),
        lines=lines_of((part_tables, joint_tables, drives, measures), drawn_parts, bench),
        twin_of=bench.mirror.originals((*parts, *joints)),
        written=_written(source, log, table),
        file=source.name,
        digests={source.name: source.digest, **bench.digests},
        may_change=may_change,
    )
    return _with_stops(with_load_heights(_with_tables_of_all(machine, table, other_side)))


def _with_tables_of_all(machine: Machine, table: FileTable, other_side: OtherSide) -> Machine:
    """``machine`` with its cables and what was measured on the real one; raises every fault of theirs."""
    read = read_cables(table.cables, other_side.own, other_side.bench)
    system = cables_of_both_sides(read, table.splitters, other_side)
    measures = with_cables(machine.measures, system, other_side.bench)
    survey = read_survey(table, machine.drives, other_side.own, other_side.bench)
    other_side.bench.log.raise_faults()
    return replace(machine, cables=system, measures=measures, survey=survey)


def _with_stops(machine: Machine) -> Machine:
    """``machine`` with the stops whose height is known as parts."""
    stops = machine.stops.items()
    return with_stops(machine, {name: stop.height for name, stop in stops if stop.height is not None})


def _own_points(tables: Mapping[str, PartTable | None], bench: Bench) -> tuple[dict[str, OwnPoints], tuple[Edit, ...]]:
    """Every part's own points, once what only the machine as a whole can show is noted."""
    bench.log.raise_if_full()
    _check_whole(tables, bench)
    bench.log.raise_if_full()
    return read_own_points(tables, bench)


def _drawn(
    parts: Mapping[str, PartTable | None],
    joints: Mapping[str, JointTable | None],
    own: Mapping[str, OwnPoints],
    bench: Bench,
) -> tuple[dict[str, PartRead | None], dict[str, Joint | None]]:
    """Every part and joint that the file writes, None with its faults noted."""
    drawn = {name: read_part(name, entry, own[name], bench) for name, entry in parts.items() if entry}
    bench.log.raise_if_full()
    return drawn, {name: read_joint(name, entry, own, bench) for name, entry in joints.items() if entry}


def _other_side(
    own: Mapping[str, OwnPoints],
    parts: Mapping[str, PartTable | None],
    joints: Mapping[str, JointTable | None],
    bench: Bench,
) -> OtherSide:
    """What makes twins of what was read; raises every fault that was found by then."""
    _raise_all(bench)
    return OtherSide(bench, own, present(parts), present(joints))


def _measured(read: Mapping[str, MeasureRead], other_side: OtherSide) -> dict[str, Measure]:
    """The measures of both sides; raises every fault that is found."""
    measures = with_twins(read, other_side)
    other_side.bench.log.raise_faults()
    return measures


def _complete(
    other_side: OtherSide, parts: Mapping[str, PartRead], joints: Mapping[str, Joint]
) -> tuple[dict[str, Part], dict[str, Joint]]:
    """The parts and joints of both sides, with the seats that bearings leave; raises every fault that is found."""
    every, tied = other_side.complete(parts, joints)
    tied = with_left_seats(tied, every, other_side.tables, other_side.bench)
    other_side.bench.log.raise_faults()
    return every, tied


def _raise_all(bench: Bench) -> None:
    """Raise the faults found so far, else those of sizes, which are only to be judged where nothing else is wrong."""
    bench.log.raise_faults()
    check_sizes(bench)
    bench.log.raise_faults()


def _written(source: Source, log: FaultLog, table: FileTable) -> dict[str, tuple[int, str]]:
    """The lines that a report may tell to alter, or to write below."""
    places = [*(("stops", name) for name in table.stops), *(("drives", name, "range") for name in table.drives)]
    places += [("dimensions", name, "value") for name, entry in table.dimensions.items() if isinstance(entry, dict)]
    texts, found = source.text.split("\n"), {place: log.line(place) for place in places}
    return {".".join(place): (line, texts[line - 1].strip()) for place, line in found.items() if line is not None}


def file_table(source: Source, log: FaultLog, moved: Mapping[Place, float] = MappingProxyType({})) -> FileTable:
    """The sections of the file; raises at once where a fault in them would make everything else look faulty.

    ``moved``: numbers that stand in the place of those of the file.
    """
    raw = with_numbers(tables_of(source), moved)
    number = raw.get("format")
    if number is None:
        log.add((), "`format` is missing", f"write `format = {FORMAT}` at the top")
    elif isinstance(number, int) and not isinstance(number, bool) and number != FORMAT:
        log.add(("format",), f"format {number} is not known", f"this program reads format {FORMAT}")
        raise log.error()
    table = checked_table(FileTable, raw, (), log, ("format", "name", "notes", "facet_error"))
    if table is not None and not table.parts:
        log.add(("parts",), "the file has no parts", "describe each with [parts.NAME]")
    if table is None or not table.parts:
        raise log.error()
    if table.name is not None:
        log.check_name(table.name, "machine", ("name",))
    return table


def bench_of(
    table: FileTable,
    dimensions: Mapping[str, DimensionEntry | None],
    tables: tuple[Mapping[str, JointTable | None], Mapping[str, PartTable | None]],
    folder: Path,
    log: FaultLog,
) -> Bench:
    """All numbers, points and names, those of the other side too."""
    joint_tables, part_tables = tables
    figures = FileNumbers(
        log=log,
        dimensions={name: entry.value if entry else None for name, entry in dimensions.items()},
        tolerances={name: entry.plus_minus for name, entry in dimensions.items() if entry},
    )
    before = log.marks
    facet_error = figures.size(table.facet_error, ("facet_error",))
    if log.marks > before:
        facet_error = DEFAULT_FACET_ERROR
    mirror = read_mirror(table.mirror, log)
    if log.has_faults(("mirror",)):
        raise log.error()
    points = read_points(table.points, ("points",), figures)
    part_names: dict[str, None] = dict.fromkeys(part_tables)
    part_names |= mirror.twins(part_names, lambda _name, nothing: nothing)
    bench = Bench(
        log=log,
        figures=figures,
        points=Points(figures, {**points, **mirror.twins(points, flip_point)}),
        mirror=mirror,
        folder=folder,
        facet_error=facet_error,
        part_names=part_names,
        ties=read_ties(joint_tables, part_names, mirror, log),
    )
    bench.findings.extend(mirror.notes({"points": points, "parts": part_tables, "joints": joint_tables}))
    return bench


def _check_whole(tables: Mapping[str, PartTable | None], bench: Bench) -> None:
    """What only the machine as a whole can show; left out where a fault in a part or joint may be the cause."""
    sound = {name: entry for name, entry in tables.items() if entry and not bench.log.has_faults(("parts", name))}
    twins = originals(tables, bench)
    empty = [name for name, entry in sound.items() if not (entry.shapes or entry.meshes or name in twins)]
    for name in empty:
        bench.log.add(("parts", name), "the part has no shapes and no meshes", _hint_of_empty(name, tables, bench))
    if len(sound) == len(tables) and not empty and None not in bench.ties.values():
        fixed = {name for name, entry in sound.items() if entry.fixed}
        check_held(fixed | {bench.mirror.other_side(name) for name in fixed if bench.mirror.has_twin(name)}, bench)


def _hint_of_empty(name: str, tables: Mapping[str, PartTable | None], bench: Bench) -> str:
    """What a part without shapes may be meant to be."""
    original = bench.mirror.other_side(name)
    if original == name:
        return "a part needs `shapes` or `meshes` to be checked"
    near = closest(original, (each for each in tables if bench.mirror.has_twin(each)))
    hint = f"it would be the twin of {shown(original)}, which is not in the file"
    return hint + (f"; the nearest is {shown(near)}" if near else "")


def present(entries: Mapping[str, Value | None]) -> dict[str, Value]:
    """``entries`` without those that are None; none is, once all faults are raised."""
    return {name: value for name, value in entries.items() if value is not None}
