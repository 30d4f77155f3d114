"""STL files, whole and broken: a file that says more than it holds is refused with both numbers."""

import struct

import numpy as np
import pytest
from plain_meshes import cube

from assembly.errors import InputError
from assembly.geometry.mesh import Mesh
from assembly.geometry.stl import parse_stl, stl_bytes

VERTICES, FACES = cube(20)
CORNERS = VERTICES[FACES]


def binary(corners, title=b"", claimed=None):
    """A binary STL by the layout of the format: title, count, then normal, corners and a spare number each."""
    head = title.ljust(80, b"\0") + struct.pack("<I", len(corners) if claimed is None else claimed)
    return head + b"".join(struct.pack("<12fH", 0, 0, 0, *triangle.ravel(), 0) for triangle in corners)


def text(corners, name="cube", normal="0 0 0"):
    facets = (
        f"facet normal {normal}\n outer loop\n" + "".join(f"  vertex {x} {y} {z}\n" for x, y, z in triangle)
        + " endloop\nendfacet\n" for triangle in corners.tolist()
    )  # fmt: skip
    return f"solid {name}\n{''.join(facets)}endsolid {name}\n".encode()


@pytest.mark.parametrize(
    "data",
    [
        binary(CORNERS),
        binary(CORNERS, title=b"solid facet vertex"),
        text(CORNERS),
        text(CORNERS, name="vertex 1 2 3 facet"),
        text(CORNERS).replace(b"\n", b"\r\n"),
        text(CORNERS).upper(),
        b"\n" + text(CORNERS),
        text(CORNERS[:6]) + text(CORNERS[6:]),
    ],
    ids=["binary", "binary titled solid", "text", "text named vertex", "crlf", "capitals", "blank line", "two solids"],
)
def test_a_cube_is_read_the_same_from_every_spelling(data):
    assert np.array_equal(parse_stl(data, "cube.stl"), CORNERS)


def test_text_keeps_double_precision_and_exponents():
    data = text(CORNERS).replace(b"vertex -10.0 -10.0 -10.0", b"vertex -1.00000000000001e1 -10 -10")
    assert parse_stl(data, "cube.stl").min() == -10.0000000000001


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"", "the file is empty"),
        (b"  \n", "the file is empty"),
        (b"\0" * 60, "60 bytes"),
        (b"this is a letter, not a mesh", "is no STL"),
        (binary(CORNERS)[:-50], "promises 12 triangles, the file holds 11"),
        (binary(CORNERS)[:-25], "promises 12 triangles, the file holds 11.5"),
        (binary(CORNERS) + b"\0\0", "promises 12 triangles, the file holds 12.04"),
        (binary(CORNERS, claimed=13), "promises 13 triangles, the file holds 12"),
        (binary(CORNERS, title=b"solid", claimed=4_000_000_000), "promises 4000000000 triangles"),
        (text(CORNERS)[:-15], "1 `solid` and 0 `endsolid`"),
        (text(CORNERS)[:900], "cut off or damaged"),
        (text(CORNERS).replace(b"endfacet\n", b"", 1), "12 `facet` and 11 `endfacet`"),
        (text(CORNERS).replace(b"endloop", b"vertex 1 2 3\nendloop", 1), "37 corners"),
        (text(CORNERS) + text(CORNERS)[:300], "cut off or damaged"),
    ],
    ids=["nothing", "blanks", "zeros", "prose", "one facet short", "half a facet short", "two bytes long",
         "count too high", "count absurd", "no endsolid", "text cut", "endfacet gone", "four corners", "second cut"],
)  # fmt: skip
def test_a_broken_file_is_refused_with_its_name_and_reason(data, told):
    with pytest.raises(InputError) as refusal:
        parse_stl(data, "arm.stl")
    assert told in str(refusal.value)
    assert refusal.value.faults[0].file == "arm.stl"


@pytest.mark.parametrize("bad", ["10,5 0 0", "10 0", "1 2 3 4", "x y z", ""])
def test_a_bad_corner_is_refused_with_its_line(bad):
    data = text(CORNERS).decode().splitlines()
    data[10] = f"  vertex {bad}"
    with pytest.raises(InputError) as refusal:
        parse_stl("\n".join(data).encode(), "arm.stl")
    fault = refusal.value.faults[0]
    assert (fault.line, fault.message) == (11, f"`vertex {bad}".rstrip() + "` is no corner")


def test_written_bytes_follow_the_format_and_never_change():
    data = stl_bytes(Mesh(VERTICES, FACES))
    assert data == stl_bytes(Mesh(VERTICES, FACES))
    assert len(data) == 84 + 12 * 50
    assert not data.startswith(b"solid")
    assert struct.unpack_from("<I", data, 80) == (12,)
    assert struct.unpack_from("<12fH", data, 84) == (-1, 0, 0, *CORNERS[0].ravel(), 0)
    assert np.array_equal(parse_stl(data, "cube.stl"), CORNERS)
