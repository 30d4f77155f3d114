"""STL, text and binary, to and from plain arrays; the lengths a file claims are checked against what it holds."""

from __future__ import annotations

import re

import numpy as np

from assembly.errors import Fault, InputError
from assembly.geometry.mesh import Floats, Mesh
from assembly.geometry.rotations import cross

_HEADER = 84
_FACET = np.dtype([("normal", "<f4", (3,)), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
_LONGEST_NUMBER = 64
"""Characters of a number in text: numpy gives every number the room of the longest."""
_SHOWN = 60
_TITLE = b"Swingroom surface, millimetres"


def parse_stl(data: bytes, file: str) -> Floats:
    """Corners (m, 3, 3) of the facets in ``data``, in the file's unit; raises InputError if it is cut off."""
    if not data.strip():
        raise InputError(Fault("the file is empty", file=file))
    claimed = int.from_bytes(data[_HEADER - 4 : _HEADER], "little")
    if len(data) >= _HEADER and len(data) == _HEADER + claimed * _FACET.itemsize:
        with np.errstate(invalid="ignore"):  # a signalling NaN: what is not finite is refused later, by how many
            return np.frombuffer(data, dtype=_FACET, offset=_HEADER)["corners"].astype(np.float64)
    if data.lstrip()[:5].lower() == b"solid" and b"\0" not in data:
        return _parse_text(data, file)
    if len(data) < _HEADER:
        raise InputError(Fault(f"is no STL: {len(data)} bytes, and a binary STL has at least {_HEADER}", file=file))
    held = (len(data) - _HEADER) / _FACET.itemsize
    raise InputError(
        Fault(
            f"the header promises {claimed} triangles, the file holds {held:.10g}",
            file=file,
            hint="cut off, damaged or no STL: export or copy it again",
        )
    )


def _parse_text(data: bytes, file: str) -> Floats:
    text = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n").lower()
    counts = {word: _lines_with(text, word) for word in (b"facet", b"vertex", b"endfacet", b"solid", b"end ?solid")}
    word = rb"(\S{1,%d})" % _LONGEST_NUMBER
    rows = re.findall(rb"^[ \t]*vertex" + 3 * (rb"[ \t]+" + word) + rb"[ \t]*$", text, re.MULTILINE)
    try:
        corners = np.array(rows, dtype=np.bytes_).astype(np.float64)
    except ValueError:
        corners = np.empty(0)
    if len(corners) != counts[b"vertex"]:
        raise InputError(_bad_vertex_line(text, file))
    facets = counts[b"facet"]
    if counts[b"end ?solid"] != counts[b"solid"] or counts[b"endfacet"] != facets or len(corners) != 3 * facets:
        message = (
            f"the text is cut off or damaged: {counts[b'solid']} `solid` and {counts[b'end ?solid']} `endsolid`, "
            f"{facets} `facet` and {counts[b'endfacet']} `endfacet`, {len(corners)} corners"
        )
        raise InputError(Fault(message, file=file, hint="each `facet` has three corners and an `endfacet`"))
    return corners.reshape(-1, 3, 3)


def _lines_with(text: bytes, word: bytes) -> int:
    return len(re.findall(rb"^[ \t]*" + word + rb"\b", text, re.MULTILINE))


def _bad_vertex_line(text: bytes, file: str) -> Fault:
    """The first corner of a text STL that is not three numbers."""
    for number, line in enumerate(text.split(b"\n"), 1):
        words = line.split()
        if words[:1] != [b"vertex"]:
            continue
        try:
            short = max(map(len, words)) <= _LONGEST_NUMBER
            good = short and len([float(word) for word in words[1:]]) == 3
        except ValueError:
            good = False
        if not good:
            given = line.strip().decode("utf-8", "replace")[:_SHOWN]
            return Fault(f"`{given}` is no corner", file=file, line=number, hint="valid: `vertex 1.5 0 -2`")
    return Fault("a corner cannot be read as three numbers", file=file)


def stl_bytes(mesh: Mesh) -> bytes:
    """``mesh`` as a binary STL in mm, the same bytes each time; its corners are rounded to single precision."""
    corners = mesh.vertices[mesh.faces]
    normals = cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.linalg.norm(normals, axis=1, keepdims=True)
    facets = np.zeros(len(corners), dtype=_FACET)
    facets["normal"] = normals / np.where(length > 0, length, 1)
    facets["corners"] = corners
    return _TITLE.ljust(_HEADER - 4) + len(corners).to_bytes(4, "little") + facets.tobytes()
