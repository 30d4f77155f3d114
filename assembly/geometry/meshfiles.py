"""Mesh files in and out: STL, OBJ, PLY and 3MF to checked solids in millimetres; the only door to trimesh.

What the header of a PLY file promises is checked against what the file holds before anything is made of it.
"""

from __future__ import annotations

import contextlib
import difflib
import errno
import io
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from assembly.errors import Fault, InputError
from assembly.geometry.facet_error import estimated_surface_error
from assembly.geometry.mesh import Floats, Indices, Mesh
from assembly.geometry.mesh_size import mesh_bytes
from assembly.geometry.meshcheck import MeshFinding, checked_mesh
from assembly.geometry.obj import parse_obj
from assembly.geometry.stl import parse_stl
from assembly.geometry.threemf import parse_3mf

_LONGEST_HEADER = 1 << 16
_LONGEST_NUMBER = 64
_AGAIN = "damaged or made up: export or copy it again"


def require_plain(data: bytes, file: str) -> dict[bytes, int]:
    """How many of each element the header promises. Raises InputError if ``data`` cannot hold as many.

    So does a number in text that is longer than any number: its reader gives all numbers the room of the longest.
    """
    end = re.compile(rb"^end_header[ \t]*\r?\n?", re.MULTILINE).search(data, 0, _LONGEST_HEADER)
    header = data[: end.start() if end else _LONGEST_HEADER]
    promised: dict[bytes, int] = {}
    for line in re.findall(rb"^element\b.*", header, re.MULTILINE):
        words = line.split()
        known = len(words) == 3 and len(words[2]) < 19 and words[2].isdigit()
        if not known or words[1] in promised:
            given = line[:60].decode("utf-8", "replace").strip()
            raise InputError(
                Fault(f"cannot be read as PLY: `{given}` promises no number of things", file=file, hint=_AGAIN)
            )
        promised[words[1]] = int(words[2])
    body = len(data) - len(header)
    for kind, count in promised.items():
        if count > body:
            message = f"the header promises {count} of {kind.decode('utf-8', 'replace')}, and {body} bytes follow"
            raise InputError(Fault(message, file=file, hint=_AGAIN))
    if b"tristrips" in promised:
        raise InputError(Fault("holds strips of triangles", file=file, hint="only facets are read: export triangles"))
    text = re.search(rb"^format\s+ascii\b", header, re.MULTILINE)
    if text and re.compile(rb"\S{%d}" % (_LONGEST_NUMBER + 1)).search(data, len(header)):
        raise InputError(Fault(f"a number has more than {_LONGEST_NUMBER} digits", file=file, hint=_AGAIN))
    return promised


MM_PER_UNIT = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "inch": 25.4}
_3MF_MM = {"micron": 0.001, "millimeter": 1.0, "centimeter": 10.0, "inch": 25.4, "foot": 304.8, "meter": 1000.0}
"""Units that 3MF Core Specification 1.3, section 3.4 (from memory) allows in a file."""


class _Triangles(NamedTuple):
    """What a file holds: vertices (n, 3), triangles (m, 3), the unit where it states one, a remark where one is due."""

    vertices: Floats
    faces: Indices
    unit: str = ""
    remark: str = ""


def read_mesh(
    path: str | Path,
    unit: str = "mm",
    scale: float = 1.0,
    pose: Floats | None = None,
    surface_error: float | None = None,
    data: bytes | None = None,
) -> tuple[Mesh, list[MeshFinding]]:
    """The solid in the file at ``path`` in mm, placed by ``pose`` (4, 4) world_from_part, and what to know of it.

    ``data`` are its bytes where they were read before (``mesh_bytes``), so that what is checked is what was read.

    Coordinates are multiplied by ``unit`` (or the unit that a 3MF file states) and ``scale``. A stated
    ``surface_error`` in mm is used, else it is estimated from the facets. Raises InputError naming the
    file where it cannot be read or does not enclose a solid.
    """
    file = str(path)
    _require_valid(file, unit, scale, surface_error)
    parse = _parser_for(Path(path))
    held = parse(_bytes_of(Path(path)) if data is None else _filled(data, file), file)
    findings = [MeshFinding("note", held.remark)] if held.remark else []
    per_unit = _3MF_MM[held.unit] if held.unit else MM_PER_UNIT[unit]
    if per_unit != MM_PER_UNIT[unit]:
        findings.append(MeshFinding("note", f"the file states its unit, {held.unit}: used instead of {unit}"))
    with np.errstate(over="ignore"):  # what is not finite then is refused, by how many
        vertices = held.vertices * (per_unit * scale)
    mesh, found = checked_mesh(vertices, held.faces, file)
    findings += found
    error = surface_error
    if error is None:
        estimate = estimated_surface_error(mesh)
        error = estimate.largest
        if error > 0:
            said = f"surface error estimated at {error:.2g} mm from the facets; state `surface_error` to override it"
            if error == estimate.coarse:
                said += (
                    ", 0 where the few sides in a ring are meant to be flat: they are taken for a round drawn coarsely"
                )
            findings.append(MeshFinding("note", said))
    mesh = Mesh(mesh.vertices, mesh.faces, error + mesh.surface_error)
    return (mesh if pose is None else mesh.moved(pose)), findings


def _require_valid(file: str, unit: str, scale: float, surface_error: float | None) -> None:
    faults = []
    if unit not in MM_PER_UNIT:
        near = difflib.get_close_matches(str(unit), MM_PER_UNIT, n=1)
        known = ", ".join(MM_PER_UNIT)
        faults.append(Fault(f"unit = {unit!r} is not known", file=file, hint=f"valid: {known}{_nearest(near)}"))
    if not (np.isfinite(scale) and scale > 0):
        faults.append(Fault(f"scale = {scale!r} cannot be used", file=file, hint="valid: a number above 0"))
    if surface_error is not None and not (np.isfinite(surface_error) and surface_error >= 0):
        hint = "valid: 0 or more, in mm"
        faults.append(Fault(f"surface_error = {surface_error!r} cannot be used", file=file, hint=hint))
    if faults:
        raise InputError(*faults)


def _nearest(names: list[str]) -> str:
    return f"; nearest: {names[0]}" if names else ""


def _parser_for(path: Path) -> Callable[[bytes, str], _Triangles]:
    parsers = {".stl": _read_stl, ".obj": _read_obj, ".ply": _read_ply, ".3mf": _read_3mf}
    ending = path.suffix.lower()
    if ending not in parsers:
        near = difflib.get_close_matches(ending, parsers, n=1)
        given = f"unknown kind of mesh file `{path.suffix}`" if ending else "the name has no ending that tells its kind"
        hint = f"valid: {', '.join(parsers)}{_nearest(near)}"
        raise InputError(Fault(given, file=str(path), hint=hint))
    return parsers[ending]


def advice_on(error: Exception) -> str:
    """What to do about a mesh file that could not be read."""
    large = getattr(error, "errno", None) == errno.EFBIG
    return "`--mesh-limit 2GB` reads files of up to 2 GB" if large else "give the path of a mesh file"


def _bytes_of(path: Path) -> bytes:
    try:
        return _filled(mesh_bytes(path), str(path))
    except FileNotFoundError:
        neighbours: list[str] = []
        with contextlib.suppress(OSError):
            neighbours += (other.name for other in path.parent.iterdir())
        near = difflib.get_close_matches(path.name, neighbours, n=1)
        hint = f"nearest name there: {near[0]}" if near else ""
        raise InputError(Fault("there is no such file", file=str(path), hint=hint)) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise InputError(Fault(f"cannot be read: {reason}", file=str(path), hint=advice_on(error))) from error


def _filled(data: bytes, file: str) -> bytes:
    if not data or data.isspace():
        raise InputError(Fault("the file is empty", file=file))
    return data


def _read_stl(data: bytes, file: str) -> _Triangles:
    corners = parse_stl(data, file).reshape(-1, 3)
    return _Triangles(corners, np.arange(len(corners)).reshape(-1, 3))


def _read_obj(data: bytes, file: str) -> _Triangles:
    return _Triangles(*parse_obj(data, file))


def _read_ply(data: bytes, file: str) -> _Triangles:
    promised = require_plain(data, file)
    held = _read_by_trimesh(data, file)
    facets = promised.get(b"face", 0)
    for what, wanted, there in (
        ("vertices", promised.get(b"vertex", 0), held.vertices),
        ("facets", facets, held.faces),
    ):
        if facets and len(there) < wanted:
            message = f"the header promises {wanted} {what}, the file holds {len(there)}"
            raise InputError(Fault(message, file=file, hint="cut off or damaged: export or copy it again"))
    if len(held.faces) > facets:
        return held._replace(remark="facets with more than three corners were split as if they had no inward corners")
    return held


def _read_3mf(data: bytes, file: str) -> _Triangles:
    held = _Triangles(*parse_3mf(data, file))
    if held.unit and held.unit not in _3MF_MM:
        raise InputError(Fault(f"states the unit {held.unit!r}", file=file, hint=f"valid: {', '.join(_3MF_MM)}"))
    return held


def _read_by_trimesh(data: bytes, file: str) -> _Triangles:
    """All triangles of a PLY file; whatever trimesh raises becomes InputError."""
    import trimesh

    try:
        with np.errstate(invalid="raise"):  # a corner's number that no whole number holds would become another one
            scene = trimesh.load_scene(
                io.BytesIO(data), file_type="ply", process=False, skip_materials=True, fix_texture=False
            )
        pieces = [piece for piece in scene.dump() if isinstance(piece, trimesh.Trimesh)]
        vertices = [_threes(piece.vertices, np.float64) for piece in pieces]
        faces = [_threes(piece.faces, np.int64) for piece in pieces]
    except Exception as error:
        hint = "damaged or of another kind than its ending says: export or copy it again"
        raise InputError(Fault("cannot be read as PLY", file=file, hint=hint)) from error
    offsets = np.cumsum([0, *(len(piece) for piece in vertices)])
    shifted = [piece + offset for piece, offset in zip(faces, offsets[:-1], strict=True)]
    points = np.concatenate([np.empty((0, 3)), *vertices])
    return _Triangles(points, np.concatenate([np.empty((0, 3), np.int64), *shifted]))


def _threes(rows: Any, kind: type[np.generic]) -> NDArray[Any]:
    """``rows`` as an array (n, 3). ValueError where they are not: trimesh may make less of a file cut off."""
    made = np.asarray(rows, dtype=kind)
    if made.size and (made.ndim != 2 or made.shape[1] != 3):
        raise ValueError(f"rows of three were expected, found {made.shape}")
    return made.reshape(-1, 3)
