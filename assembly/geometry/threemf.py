"""3MF archives to plain arrays: every part is read in one pass, with limits on sizes and counts; the only door to lxml.

Where in a file things stand is from the 3MF Core Specification 1.3 and its Production Extension (from memory).
"""

from __future__ import annotations

import io
import zipfile
from array import array
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from assembly.errors import Fault, InputError
from assembly.geometry.mesh import Floats, Indices

_MOST_BYTES = 400_000_000
"""Bytes that the models of an archive may hold unpacked."""
_MOST_RATIO = 100
"""How many times larger than packed a model may be: packed lists of triangles are seldom a tenth of their size."""
_SMALL = 1_000_000
"""Bytes up to which the ratio does not matter."""
_MOST_ENTRIES = 10_000
_MOST_PLACED = 10_000
"""Objects that may be placed: an object may hold others several times, and those others again."""
_MOST_TRIANGLES = 20_000_000
_DEEPEST = 32
_ROOT = "3d/3dmodel.model"
_UNREAD = ("beamlattice", "slicestack", "displacementmesh", "booleans")
"""Shapes of extensions that are no triangles: they would be left out in silence."""

_Key = tuple[str, str]
"""An object: the model in which it stands, and its number there."""


@dataclass(slots=True)
class _Object:
    points: array[float] = field(default_factory=lambda: array("d"))
    corners: array[int] = field(default_factory=lambda: array("q"))
    held: list[tuple[_Key, Floats]] = field(default_factory=list)


@dataclass(slots=True)
class _Model:
    unit: str = ""
    objects: dict[_Key, _Object] = field(default_factory=dict)
    placed: list[tuple[_Key, Floats]] = field(default_factory=list)


def parse_3mf(data: bytes, file: str) -> tuple[Floats, Indices, str]:
    """Vertices (n, 3), triangles (m, 3) where the build places them, and the unit, empty if none is stated.

    Raises InputError if the archive is damaged, holds more than a mesh can, or names objects it does not hold.
    """
    model = _Model()
    try:
        for number, (name, text) in enumerate(_models(data, file)):
            _read(text, name, model, first=number == 0, file=file)
    except InputError:
        raise
    except Exception as error:
        reason = next(iter(str(error).splitlines()), "")[:120] or "it holds no model"
        hint = "damaged or of another kind than its ending says: export or copy it again"
        raise InputError(Fault(f"cannot be read as 3MF ({reason})", file=file, hint=hint)) from error
    named = [key for key, _ in model.placed] + [key for each in model.objects.values() for key, _ in each.held]
    lost = sorted({number for name, number in named if (name, number) not in model.objects})
    if lost:
        message = f"names objects that it does not hold: {', '.join(lost[:10])}"
        raise InputError(Fault(message, file=file, hint="damaged or incomplete: export it again"))
    return *_assembled(model, file), model.unit


def _models(data: bytes, file: str) -> list[tuple[str, bytes]]:
    """Names in small letters and texts of the models in the archive, the one that is built before the others."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        entries = archive.infolist()
        models = [entry for entry in entries if entry.filename.lower().endswith(".model")]
        unpacked = sum(entry.file_size for entry in models)
        swollen = any(entry.file_size > max(_SMALL, _MOST_RATIO * entry.compress_size) for entry in models)
        if len(entries) > _MOST_ENTRIES or unpacked > _MOST_BYTES or swollen:
            message = f"is an archive of {len(entries)} entries whose models unpack to {unpacked} bytes"
            hint = f"valid: {_MOST_ENTRIES} entries, {_MOST_BYTES} bytes, {_MOST_RATIO} times what is packed"
            raise InputError(Fault(message, file=file, hint=hint))
        named = [(entry.filename.lower().lstrip("/"), archive.read(entry)) for entry in models]
    roots = [name for name, _ in named if _ROOT in name]
    if not roots:
        raise ValueError(f"no {_ROOT} in the archive")
    return sorted(named, key=lambda each: each[0] != roots[0])


def _read(text: bytes, name: str, model: _Model, *, first: bool, file: str) -> None:
    """Gather what one model of the archive holds, the ``first`` with unit and build; what was read is let go."""
    from lxml import etree

    options: dict[str, Any] = {"resolve_entities": False, "no_network": True, "load_dtd": False, "huge_tree": False}
    current, depth = _Object(), 0
    for event, element in etree.iterparse(io.BytesIO(text), events=("start", "end"), remove_comments=True, **options):
        tag = etree.QName(element).localname if isinstance(element.tag, str) else ""
        if event == "start":
            depth += 1
            _require_plain(element, tag, depth, file)
            if tag == "model" and first:
                model.unit = element.get("unit", "")
            elif tag == "object":
                current = model.objects.setdefault((name, element.attrib["id"]), _Object())
            continue
        depth -= 1
        if tag == "vertex":
            current.points.extend([float(element.attrib[key]) for key in ("x", "y", "z")])
        elif tag == "triangle":
            current.corners.extend([int(element.attrib[key]) for key in ("v1", "v2", "v3")])
        elif tag == "component":
            current.held.append(_placed(element, name))
        elif tag == "item" and first:
            model.placed.append(_placed(element, name))
        element.clear()
        while element.getprevious() is not None:
            del element.getparent()[0]


def _require_plain(element: Any, tag: str, depth: int, file: str) -> None:
    """Refuse what would be left out in silence, and what no writer of meshes makes."""
    if depth == 1 and element.getroottree().docinfo.doctype:
        raise ValueError("it declares a document type")
    if depth > _DEEPEST:
        raise ValueError(f"elements are nested more than {_DEEPEST} deep")
    if tag in _UNREAD:
        message = f"holds `{tag}`, which is not made of triangles"
        raise InputError(Fault(message, file=file, hint="only triangles are read: export them"))


def _placed(element: Any, name: str) -> tuple[_Key, Floats]:
    """Which object an item or component places, and its pose (4, 4), a row of the file being a column of it."""
    pose = np.eye(4)
    if "transform" in element.attrib:
        pose[:3, :4] = np.array(element.attrib["transform"].split(), dtype=np.float64).reshape(4, 3).T
    paths = [value for key, value in element.attrib.items() if key.endswith("}path")]
    return (paths[0].lower().lstrip("/") if paths else name, element.attrib["objectid"]), pose


def _assembled(model: _Model, file: str) -> tuple[Floats, Indices]:
    """All triangles where the build places them. InputError if objects hold each other or are too many."""
    arrays = {key: _arrays(each, file) for key, each in model.objects.items()}
    points, corners, count = [np.empty((0, 3))], [np.empty((0, 3), dtype=np.int64)], 0
    waiting = [(key, pose, 0) for key, pose in reversed(model.placed)]
    triangles = placed = 0
    while waiting:
        key, pose, depth = waiting.pop()
        vertices, faces = arrays[key]
        placed, triangles = placed + 1, triangles + len(faces)
        if depth > _DEEPEST or placed > _MOST_PLACED or triangles > _MOST_TRIANGLES:
            message = "places objects within each other without end, or too many of them"
            hint = f"valid: {_MOST_PLACED} placed objects with {_MOST_TRIANGLES} triangles, {_DEEPEST} deep"
            raise InputError(Fault(message, file=file, hint=hint))
        with np.errstate(all="ignore"):  # what is not finite is refused later, by how many
            points.append(vertices @ pose[:3, :3].T + pose[:3, 3])
            waiting += [(other, pose @ within, depth + 1) for other, within in reversed(model.objects[key].held)]
        corners.append(faces + count)
        count += len(vertices)
    return np.concatenate(points), np.concatenate(corners)


def _arrays(held: _Object, file: str) -> tuple[Floats, Indices]:
    vertices = np.array(held.points, dtype=np.float64).reshape(-1, 3)
    faces = np.array(held.corners, dtype=np.int64).reshape(-1, 3)
    if len(faces) and (faces.min() < 0 or faces.max() >= len(vertices)):
        raise InputError(Fault(f"a facet names a vertex that does not exist; there are {len(vertices)}", file=file))
    return vertices, faces
