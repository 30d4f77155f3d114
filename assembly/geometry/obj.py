"""OBJ text to plain arrays; facets with more than three corners are split into triangles that stay inside them."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from assembly.errors import Fault, InputError
from assembly.geometry.mesh import Floats, Indices

_BEYOND = 1 << 40
"""Stands for every vertex number that no file can hold."""
_SHOWN = 60
_CURVED = frozenset(("surf", "curv", "curv2", "cstype"))


def parse_obj(data: bytes, file: str) -> tuple[Floats, Indices]:
    """Vertices (n, 3) in the file's unit and triangles (m, 3) of ``data``; faults name the line."""
    points: list[list[float]] = []
    triangles: list[tuple[int, int, int]] = []
    polygons: list[tuple[int, list[int]]] = []
    for number, line in _whole_lines(data.decode("utf-8", "replace")):
        words = line.partition("#")[0].split()
        try:
            if not words:
                continue
            if words[0] == "v":
                x, y, z = words[1:4]
                points.append([float(x), float(y), float(z)])
            elif words[0] == "f":
                corners = [_index(word, len(points)) for word in words[1:]]
                if len(corners) == 3:
                    triangles.append((corners[0], corners[1], corners[2]))
                else:
                    polygons.append((number, corners))
        except ValueError:
            valid = "valid: `v 1.5 0 -2`, `f 1 2 3` with vertex numbers from 1"
            raise InputError(
                Fault(f"`{line.strip()[:_SHOWN]}` cannot be read", file=file, line=number, hint=valid)
            ) from None
        if words[0] in _CURVED:
            message = f"`{words[0]}` is a curved surface"
            raise InputError(Fault(message, file=file, line=number, hint="only facets are read: export triangles"))
    vertices = np.array(points, dtype=np.float64).reshape(-1, 3)
    for number, corners in polygons:
        triangles += _split(vertices, corners, file, number)
    return vertices, np.array(triangles, dtype=np.int64).reshape(-1, 3)


def _whole_lines(text: str) -> Iterator[tuple[int, str]]:
    """Number and text of each line; one that ends in a backslash goes on in the next and keeps its number."""
    begun, first = "", 0
    for number, line in enumerate(text.splitlines(), 1):
        first = first if begun else number
        if line.endswith("\\"):
            begun += line[:-1] + " "
        else:
            yield first, begun + line
            begun = ""
    if begun:
        yield first, begun


def _index(word: str, so_far: int) -> int:
    """Vertex number from 0; the file counts from 1, or backwards from the latest vertex. An impossible one is kept."""
    given = int(word.partition("/")[0])
    if given == 0:
        raise ValueError(word)
    return min(given - 1, _BEYOND) if given > 0 else max(so_far + given, -1)


def _split(vertices: Floats, corners: list[int], file: str, line: int) -> list[tuple[int, int, int]]:
    """A facet with ``corners`` round it as triangles: a fan where it bulges outwards all round, else ear by ear."""
    if len(corners) < 3:
        raise InputError(Fault("a facet has fewer than three corners", file=file, line=line))
    if min(corners) < 0 or max(corners) >= len(vertices):
        message = f"a facet names a vertex that does not exist; there are {len(vertices)}"
        raise InputError(Fault(message, file=file, line=line))
    outline = _in_its_plane(vertices[corners])
    one, other = outline[1:-1] - outline[0], outline[2:] - outline[0]
    if np.all(one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0] > 0):
        return [(corners[0], corners[k], corners[k + 1]) for k in range(1, len(corners) - 1)]
    order = _ears(outline) if len(set(corners)) > len(corners) / 2 else None
    if order is None:
        raise InputError(
            Fault("the outline of a facet crosses itself or is flat", file=file, line=line, hint="export triangles")
        )
    return [(corners[i], corners[j], corners[k]) for i, j, k in order]


def _in_its_plane(points: Floats) -> Floats:
    """``points`` (n, 3) along an outline, seen along the axis nearest its normal so that it runs anticlockwise."""
    after = np.roll(points, -1, axis=0)
    normal = np.cross(points - points[0], after - points[0]).sum(axis=0)
    axis = int(np.argmax(np.abs(normal)))
    first, second = (axis + 1) % 3, (axis + 2) % 3
    return points[:, [first, second] if normal[axis] > 0 else [second, first]]


def _ears(outline: Floats) -> list[tuple[int, int, int]] | None:
    """Triangles of a plain outline (n, 2) that runs anticlockwise, every corner kept; None if there are none.

    An ear is a corner that bulges outwards and whose triangle touches no other corner (Meisters 1975).
    """
    left = list(range(len(outline)))
    triangles, begin = [], 0
    while len(left) > 3:
        for spot in ((begin + k) % len(left) for k in range(len(left))):
            ear = (left[spot - 1], left[spot], left[(spot + 1) % len(left)])
            corners = outline[list(ear)]
            others = outline[left]
            others = others[~np.any(np.all(others[:, None] == corners, axis=2), axis=1)]
            sides = [_side(corners[k], corners[(k + 1) % 3], others) for k in range(3)]
            if _side(*corners) > 0 and not np.any(np.min(sides, axis=0) >= 0):
                triangles.append(ear)
                del left[spot]
                begin = spot
                break
        else:
            return None
    i, j, k = left
    return [*triangles, (i, j, k)]


def _side(start: Floats, end: Floats, points: Floats) -> Floats:
    """Positive where ``points`` (..., 2) lie to the left of the line from ``start`` to ``end``."""
    along, across = end - start, points - start
    side: Floats = along[0] * across[..., 1] - along[1] * across[..., 0]
    return side
