"""Mesh files altered by chance, for the fuzz, beside a box that slides past them: what it sweeps is known on paper."""

import io
import random
import zipfile
from collections.abc import Callable
from functools import cache
from typing import Any

import numpy as np
from linkage_machines import Floats
from mesh_writers import obj, ply, three_mf
from plain_meshes import ball, box, cube, cylinder, together
from random_solids import tube

from assembly.geometry.mesh import Mesh
from assembly.geometry.stl import stl_bytes

SWEPT = np.array([[-45.0, -5.0, -5.0], [45.0, 5.0, 5.0]])
"""mm: what the sliding box of ``MACHINE`` fills over its range, closed form: 10 mm wide, from -40 to 40 along x."""
MACHINE = """format = 1
name = "A block beside a casting"
[parts.casting]
fixed = true
meshes = [{ file = "%s" }]
[parts.rail]
fixed = true
shapes = [{ name = "foot", box = [0, 0, -60], size = [40, 10, 10] }]
[parts.block]
shapes = [{ name = "block", box = [0, 0, 0], size = [10, 10, 10] }]
[joints.rail]
slide = ["rail", "block"]
at = [0, 0, 0]
along = [1, 0, 0]
[drives.x]
slides = { rail = 1 }
range = [-40, 40]
[clearance]
required = 1
"""
WORDS = (
    b"nan",
    b"inf",
    b"-inf",
    b"1e400",
    b"1e-320",
    b"0",
    b"-1",
    b"4294967295",
    b"99999999999999999999",
    b"1,5",
    b"",
    b"\xff",
)


@cache
def solids() -> dict[str, tuple[Any, Any]]:
    """Vertices and triangles of closed solids that keep clear of what the box sweeps, by 4 mm and more."""
    hollow = box((10, 10, 10), (0, 30, 0))
    return {
        "cube": cube(20, (0, 25, 0)),
        "plate": box((80, 0.5, 40), (0, 10, 0)),
        "tube": tube(14, 4, 90, 12),
        "ball": ball(9, 1, (20, 20, 0)),
        "cylinder": _placed(cylinder(6, 30, 9), (-20, 18, 0)),
        "two bodies": together(cube(10, (20, 20, 0)), cube(12, (26, -22, 3))),
        "two that meet": together(cube(10, (20, 20, 0)), cube(10, (26, 21, 1))),
        "hollow": together(cube(24, (0, 30, 0)), (hollow[0], hollow[1][:, ::-1])),
    }


def _placed(solid: tuple[Any, Any], shift: Any) -> tuple[Any, Any]:
    return solid[0] + np.asarray(shift, dtype=float), solid[1]


def _tube_over_the_path(solid: tuple[Any, Any]) -> tuple[Any, Any]:
    """The tube lies along x, so that the box slides through its bore."""
    return np.asarray(solid[0])[:, [2, 0, 1]] - (45, 0, 0), solid[1]


def stl_text(vertices: Any, faces: Any) -> bytes:
    rows = ["solid part"]
    for corners in np.asarray(vertices)[faces].tolist():
        rows += ["facet normal 0 0 0", "outer loop"]
        rows += [f"vertex {x!r} {y!r} {z!r}" for x, y, z in corners]
        rows += ["endloop", "endfacet"]
    return "\n".join([*rows, "endsolid part", ""]).encode()


WRITERS: dict[str, Callable[[Any, Any], bytes]] = {
    "binary.stl": lambda vertices, faces: stl_bytes(Mesh(vertices, faces)),
    "text.stl": stl_text,
    "a.obj": obj,
    "text.ply": ply,
    "little.ply": lambda vertices, faces: ply(vertices, faces, fmt="binary_little_endian"),
    "big.ply": lambda vertices, faces: ply(vertices, faces, fmt="binary_big_endian"),
    "a.3mf": lambda vertices, faces: three_mf(vertices, faces, unit=""),
}


def _alter_solid(vertices: Floats, faces: Any, chance: random.Random) -> tuple[Floats, Any, str]:
    """A solid with vertices moved, or facets taken away, said twice, turned, exchanged or made thin."""
    way = chance.choice(
        ["moved", "moved", "moved into the way", "gone", "twice", "turned", "collapsed", "sheet", "copy", "odd"]
    )
    vertices, faces = np.array(vertices, dtype=float), np.array(faces)
    facet, vertex = chance.randrange(len(faces)), chance.randrange(len(vertices))
    if way == "moved":
        vertices[vertex] += [chance.gauss(0, chance.choice([1e-7, 0.1, 5, 50])) for _ in range(3)]
    elif way == "moved into the way":
        vertices[vertex] = [chance.uniform(-45, 45), chance.uniform(-5, 5), chance.uniform(-5, 5)]
    elif way == "gone":
        faces = np.delete(faces, facet, axis=0)
    elif way == "twice":
        faces = np.concatenate([faces, faces[facet : facet + 3]])
    elif way == "turned":
        faces[facet] = faces[facet][::-1]
    elif way == "collapsed":
        faces[facet, 0] = faces[facet, 1]
    elif way == "sheet":
        sheet = [[chance.uniform(-45, 45), chance.uniform(-30, 30), chance.uniform(-30, 30)] for _ in range(3)]
        number = len(vertices)
        vertices = np.concatenate([vertices, sheet])
        faces = np.concatenate([faces, [[number, number + 1, number + 2], [number + 2, number + 1, number]]])
    elif way == "copy":
        vertices, faces = together((vertices, faces), (vertices + chance.gauss(0, 8), faces))
    else:
        vertices[vertex] = chance.choice([np.nan, np.inf, 1e30, 1e308, 1e9, 5e-324, 0])
    return vertices, faces, way


def _alter_bytes(data: bytes, chance: random.Random) -> tuple[bytes, str]:
    """A file cut off, with bytes or words altered, or with numbers that lie about what it holds."""
    way = chance.choice(["cut off", "bytes", "word", "word", "number", "lines", "tail", "head"])
    altered = bytearray(data)
    spot = chance.randrange(len(altered))
    if way == "cut off":
        del altered[spot:]
    elif way == "bytes":
        for _ in range(chance.choice([1, 4, 40])):
            altered[chance.randrange(len(altered))] = chance.randrange(256)
    elif way == "word":
        words = data.split(b" ")
        words[chance.randrange(len(words))] = chance.choice([*WORDS, b"9" * 5000])
        altered = bytearray(b" ".join(words))
    elif way == "number":
        low = min(spot, len(altered) - 4)
        altered[low : low + 4] = chance.choice([0, 1, 2**31, 2**32 - 1, 0x7F800000, 0x7FC00000, 0x7F7FFFFF]).to_bytes(
            4, "little"
        )
    elif way == "lines":
        lines = data.split(b"\n")
        line = chance.randrange(len(lines))
        lines[line:line] = [chance.choice(lines)] * chance.choice([1, 3, 300])
        altered = bytearray(b"\n".join(lines))
    elif way == "tail":
        altered += bytes(chance.randrange(256) for _ in range(chance.choice([1, 50]))) + data[:spot]
    else:
        altered[: min(90, spot)] = data[spot : spot + min(90, spot)]
    return bytes(altered), way


def _alter_inside(data: bytes, chance: random.Random) -> tuple[bytes, str]:
    """The model in a 3MF archive, altered and packed again."""
    with zipfile.ZipFile(io.BytesIO(data)) as held:
        model, way = _alter_bytes(held.read("3D/3dmodel.model"), chance)
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("3D/3dmodel.model", model)
    return stream.getvalue(), f"model {way}"


def altered_mesh(chance: random.Random) -> tuple[str, bytes, str]:
    """Name and bytes of an altered mesh file, and what was done to it."""
    solid, kind = chance.choice(sorted(solids())), chance.choice(sorted(WRITERS))
    vertices, faces = solids()[solid]
    if solid == "tube":
        vertices, faces = _tube_over_the_path((vertices, faces))
    ways = []
    for _ in range(chance.choice([0, 1, 1, 2])):
        vertices, faces, way = _alter_solid(vertices, faces, chance)
        ways.append(way)
    with np.errstate(all="ignore"):
        data = WRITERS[kind](vertices, faces)
    if not ways or chance.random() < 0.4:
        alter = _alter_inside if kind == "a.3mf" and chance.random() < 0.7 else _alter_bytes
        data, way = alter(data, chance)
        ways.append(way)
    name = kind if chance.random() < 0.95 else f"a{chance.choice(['.stl', '.obj', '.ply', '.3mf', '.STL', ''])}"
    return name, data, f"{solid} as {kind}, {' and '.join(ways)}"
