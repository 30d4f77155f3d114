"""Mesh files of a part: found, read, placed, and their digests kept."""

from __future__ import annotations

import hashlib
from math import isnan
from pathlib import Path

import numpy as np

from assembly.errors import InputError
from assembly.geometry import rotations
from assembly.geometry.mesh import Floats
from assembly.geometry.mesh_size import mesh_bytes
from assembly.geometry.meshfiles import advice_on, read_mesh
from assembly.geometry.sizes import size_findings
from assembly.model.fault_list import closest, place_text, shown
from assembly.model.file_tables import MeshTable
from assembly.model.machine import Estimate, FindingKind, Shape, Vector
from assembly.model.positions import Place
from assembly.model.quantities_read import Points
from assembly.model.reading import Bench, Drawn
from assembly.model.schema import checked_table
from assembly.model.seats import read_seats

_LEAST_SCALE, _LARGEST_SCALE = 1e-6, 1e6


def read_mesh_entry(raw: object, place: Place, points: Points, bench: Bench) -> list[Shape]:
    """The shape of one entry of ``meshes``; none where faults were noted."""
    table, before = checked_table(MeshTable, raw, place, bench.log), bench.log.marks
    if table is None:
        return []
    figures = points.figures
    name = (Path(table.file).stem or table.file) if table.name is None else table.name
    seats = read_seats(name, table.bearing_of, place, bench)
    degrees = figures.vector(table.rotated, (*place, "rotated"))
    at = points.point(table.at, (*place, "at"))
    scale = figures.number(table.scale, (*place, "scale"))
    if not isnan(scale) and not _LEAST_SCALE <= scale <= _LARGEST_SCALE:
        bench.log.add((*place, "scale"), f"{scale:g} is not a scale", f"give {_LEAST_SCALE:g} to {_LARGEST_SCALE:g}")
    surface_error = (
        None if table.surface_error is None else figures.amount(table.surface_error, (*place, "surface_error"))
    )
    where = (*place, "file")
    found = None if bench.log.is_full else _existing(table.file, where, bench)
    if found is None or bench.log.marks > before:
        return []
    pose = rotations.pose_matrix(rotations.rotation_about_axes(degrees), at)
    try:
        mesh, findings = read_mesh(found[0], table.unit, scale, pose, surface_error, found[1])
    except InputError as refusal:
        for fault in refusal.faults:
            inside = [f"line {fault.line}"] if fault.line is not None else []
            inside += [fault.place] if fault.place else []
            bench.log.add(where, ": ".join([" ".join([shown(table.file), *inside]), fault.message]), fault.hint)
        return []
    about = _about(table.file, place)
    for finding in findings:
        bench.note(about, finding.message, FindingKind(finding.kind))
    if placed := _placed(table.unit, scale, at, degrees):
        bench.note(about, placed)
    bench.drawn[about] = Drawn(place, mesh, stated=bool(table.model_fields_set & {"unit", "scale"}))
    guessed = surface_error is None and mesh.surface_error > 0
    estimated = Estimate(table.file, mesh.surface_error) if guessed else None
    return [Shape(name, mesh, seats, estimated=estimated, entry=place)]


def placement(raw: object, place: Place, points: Points, bench: Bench) -> Floats | None:
    """Where an entry of ``meshes`` puts its file: turned, shifted and scaled (4, 4); None where faults were noted."""
    table, before = checked_table(MeshTable, raw, place, bench.log), bench.log.marks
    if table is None:
        return None
    degrees = points.figures.vector(table.rotated, (*place, "rotated"))
    pose = rotations.pose_matrix(rotations.rotation_about_axes(degrees), points.point(table.at, (*place, "at")))
    pose[:3, :3] *= points.figures.number(table.scale, (*place, "scale"))
    return pose if bench.log.marks == before else None


def _placed(unit: str, scale: float, at: Vector, degrees: Vector) -> str:
    """What the entry says that moves or stretches the file, in words; nothing where it is taken as drawn."""
    told = [
        f"read in {unit}" if unit != "mm" else "",
        f"scaled by {scale:g}" if scale != 1 else "",
        f"turned {_three(degrees)}° about x, y and z" if any(degrees) else "",
        f"moved by {_three(at)} mm" if any(at) else "",
    ]
    return ", ".join(filter(None, told))


def _three(values: Vector) -> str:
    return "[" + ", ".join(f"{value:zg}" for value in values) + "]"


def check_sizes(bench: Bench) -> None:
    """Note solids whose size or place looks wrong; a fault where the builder must say first what is meant."""
    points = np.array([point for point in bench.points.known.values() if point is not None]).reshape(-1, 3)
    meshes = {about: drawn.mesh for about, drawn in bench.drawn.items()}
    stated = {about for about, drawn in bench.drawn.items() if drawn.stated}
    for doubt in size_findings(meshes, points, stated):
        if doubt.fault:
            bench.log.add(bench.drawn[doubt.name].place, f"{doubt.name.partition(' ')[2]} {doubt.message}")
        else:
            bench.note(doubt.name, doubt.message)


def _existing(file: str, place: Place, bench: Bench) -> tuple[Path, bytes] | None:
    """Path and bytes of a mesh file that is there, with its digest kept; a note where it lies outside the folder.

    The digest is of the bytes that are then checked: the file is read once.
    """
    path = bench.folder / file
    try:
        data = mesh_bytes(path)
        outside = not path.resolve().is_relative_to(bench.folder.resolve())
    except FileNotFoundError:
        bench.log.add(place, f"there is no mesh file {shown(file)}", _offer(file, bench.folder))
        return None
    except (OSError, RuntimeError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        bench.log.add(place, f"mesh file {shown(file)} cannot be read: {reason}", advice_on(error))
        return None
    bench.digests.setdefault(file, hashlib.sha256(data).hexdigest())
    if outside:
        bench.note(_about(file, place[:-1]), "this mesh file lies outside the machine's folder")
    return path, data


def _about(file: str, place: Place) -> str:
    return f"{place_text(place)} ({file})"


def _offer(file: str, folder: Path) -> str:
    """The hint for a file that is not there: the one in the same folder whose name is most like it."""
    wanted = folder / file
    try:
        there = sorted(entry.name for entry in wanted.parent.iterdir() if entry.is_file())
    except (OSError, ValueError):
        return "paths count from the folder of the mechanism file"
    near = closest(wanted.name, there)
    return (
        f"the nearest file name there is {shown(near)}" if near else "paths count from the folder of the mechanism file"
    )
