"""OBJ text: numbering, facets with many corners, and faults that name the line."""

import numpy as np
import pytest

from assembly.errors import InputError
from assembly.geometry.obj import parse_obj

SQUARE = "v 0 0 0\nv 2 0 0\nv 2 2 0\nv 0 2 0\n"


def areas(text):
    vertices, faces = parse_obj(text.encode(), "part.obj")
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    return np.cross(b - a, c - a)[:, 2] / 2, faces


@pytest.mark.parametrize(
    "facets",
    [
        "f 1 2 3\nf 1 3 4",
        "f 1/5/7 2/6/8 3//9\nf 1 3 4",
        "f -4 -3 -2\nf -4 -2 -1",
        "f 1 2 3 4",
        "# a square\ng top\nusemtl steel\ns off\nf 1 2 \\\n 3 4 # corners",
    ],
    ids=["triangles", "slashes", "backwards", "one facet", "continued line"],
)
def test_a_square_comes_out_as_two_triangles(facets):
    area, faces = areas(SQUARE + facets)
    assert len(faces) == 2
    assert area.tolist() == [2, 2]


def test_backward_numbers_count_from_the_vertex_before_them():
    _, faces = parse_obj(b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf -3 -2 -1\nv 9 9 9\nv 8 9 9\nv 9 8 9\nf -3 -2 -1", "part.obj")
    assert faces.tolist() == [[0, 1, 2], [3, 4, 5]]


@pytest.mark.parametrize(
    ("outline", "area"),
    [
        ([(0, 0), (30, 0), (30, 10), (10, 10), (10, 40), (0, 40)], 600),
        ([(0, 0), (30, 0), (30, 10), (20, 10), (20, 5), (10, 5), (10, 10), (0, 10)], 250),
        ([(0, 0), (10, 0), (20, 0), (20, 20), (10, 20), (0, 20), (0, 10)], 400),
        ([(0, 0), (6, 2), (12, 0), (10, 6), (12, 12), (6, 10), (0, 12), (2, 6)], 96),
    ],
    ids=["angle", "channel", "corners on straight edges", "star"],
)
@pytest.mark.parametrize("start", range(4))
@pytest.mark.parametrize("turned", [False, True])
def test_a_facet_with_inward_corners_is_split_inside_itself_and_keeps_every_corner(outline, area, start, turned):
    """Triangles that all face one way and add up to the outline's own area (shoelace formula) cover it once."""
    outline = outline[start:] + outline[:start]
    outline = outline[::-1] if turned else outline
    text = "".join(f"v {x} {y} 5\n" for x, y in outline) + "f " + " ".join(str(k + 1) for k in range(len(outline)))
    pieces, faces = areas(text)
    assert np.all(pieces < 0 if turned else pieces > 0)
    assert abs(pieces.sum()) == pytest.approx(area)
    assert len(faces) == len(outline) - 2
    assert set(faces.ravel().tolist()) == set(range(len(outline)))


@pytest.mark.parametrize(
    ("text", "line", "told"),
    [
        ("v 0 0\nf 1 2 3", 1, "`v 0 0` cannot be read"),
        ("v 0 0 zero", 1, "cannot be read"),
        ("v 0 0 1,5", 1, "cannot be read"),
        (SQUARE + "f 1 2 three", 5, "`f 1 2 three` cannot be read"),
        (SQUARE + "f 0 1 2", 5, "vertex numbers from 1"),
        (SQUARE + "f 1 2", 5, "fewer than three corners"),
        (SQUARE + "f 1 2 3 9", 5, "does not exist; there are 4"),
        (SQUARE + "f -9 1 2 3", 5, "does not exist"),
        (SQUARE + "\nf 1 3 2 4", 6, "crosses itself or is flat"),
        (SQUARE + "f 1 2 1 2", 5, "crosses itself or is flat"),
        (SQUARE + "f " + "1 2 3 4 " * 500, 5, "crosses itself or is flat"),
        (SQUARE + "cstype bspline", 5, "`cstype` is a curved surface"),
    ],
)
def test_a_fault_names_its_line(text, line, told):
    with pytest.raises(InputError) as refusal:
        parse_obj(text.encode(), "part.obj")
    assert told in str(refusal.value)
    assert (refusal.value.faults[0].file, refusal.value.faults[0].line) == ("part.obj", line)


def test_points_alone_give_no_triangles():
    vertices, faces = parse_obj(SQUARE.encode(), "part.obj")
    assert (vertices.shape, faces.shape) == ((4, 3), (0, 3))
