"""Broken surfaces, each with a single fault: refused with its count, or repaired and said, never passed in silence."""

import re

import numpy as np
import pytest
from plain_meshes import ball, box, cube, edge_uses, inward, signed_volume, together, volume

from assembly.errors import InputError
from assembly.geometry.mesh import Mesh
from assembly.geometry.meshcheck import checked_mesh
from assembly.geometry.shells import components

CUBE = cube(20)


def soup(solid):
    """Every facet with three vertices of its own, as an STL file holds them."""
    vertices, faces = solid
    return vertices[faces].reshape(-1, 3), np.arange(3 * len(faces)).reshape(-1, 3)


def refusal_of(solid):
    with pytest.raises(InputError) as refusal:
        checked_mesh(*solid, "arm.stl")
    assert refusal.value.faults[0].file == "arm.stl"
    return str(refusal.value)


def repaired(solid, *said):
    mesh, findings = checked_mesh(*solid, "arm.stl")
    assert [finding.message for finding in findings] == list(said)
    assert set(edge_uses(mesh.faces).values()) == {2}
    return mesh


def test_a_whole_cube_passes_without_a_word_and_its_corners_are_merged():
    mesh = repaired(soup(CUBE))
    assert (len(mesh.vertices), len(mesh.faces), mesh.surface_error) == (8, 12, 0)
    assert mesh.volume == pytest.approx(8000)


def test_the_result_does_not_depend_on_unused_vertices_or_negative_zero():
    vertices, faces = soup(box((20, 20, 20), (10, 10, 10)))
    vertices = np.where((vertices == 0) & (np.arange(len(vertices)) % 2 == 0)[:, None], -0.0, vertices)
    mesh = repaired((np.concatenate([vertices, [[1e6, 0, 0]]]), faces))
    assert mesh.bounds.tolist() == [[0, 0, 0], [20, 20, 20]]
    assert len(mesh.vertices) == 8


def test_one_of_twelve_triangles_missing_leaves_three_open_edges():
    """TC-07c, worked example, own model."""
    vertices, faces = cube(40)
    told = refusal_of((vertices, faces[1:]))
    assert "is not closed: 3 open edges" in told
    assert set(re.search(r"one at \((.*)\) mm", told)[1].split(", ")) <= {"20", "-20"}


def test_a_cube_mirrored_without_turning_its_facets_is_turned():
    """TC-07b, worked example, own model: volume -8000 becomes +8000."""
    vertices, faces = cube(20)
    mirrored = vertices * (1, -1, 1), faces
    assert signed_volume(mirrored) == pytest.approx(-8000)
    mesh = repaired(mirrored, "was inside out: turned, volume -8000 became 8000 mm³")
    assert mesh.volume == pytest.approx(8000)


def test_facets_that_face_the_wrong_way_are_turned_and_counted():
    vertices, faces = soup(cube(20))
    for k in (3, 8):
        faces[k] = faces[k, ::-1]
    mesh = repaired((vertices, faces), "turned 2 facets that faced the other way than their neighbours")
    assert mesh.volume == pytest.approx(8000)


def test_facets_turned_at_random_are_all_put_right():
    vertices, faces = ball(10, 3)
    wrong = np.random.default_rng(11).random(len(faces)) < 0.5
    mesh, findings = checked_mesh(vertices, np.where(wrong[:, None], faces[:, ::-1], faces), "arm.stl")
    assert mesh.volume == pytest.approx(signed_volume((vertices, faces)))
    assert findings[0].kind == "repaired"


def test_useless_facets_are_removed_and_counted():
    vertices, faces = cube(20)
    useless = [[0, 0, 1], [2, 7, 2], faces[5], faces[5], np.roll(faces[7], 1)]
    said = "removed facets: 2 without area and 3 there twice or lying back to back"
    assert repaired((vertices, np.concatenate([faces, useless])), said).volume == pytest.approx(8000)


def test_a_surface_drawn_from_both_sides_is_kept_once():
    vertices, faces = cube(20)
    said = "removed facets: 12 there twice or lying back to back"
    assert repaired((vertices, np.concatenate([faces, faces[:, ::-1]])), said).volume == pytest.approx(8000)


def test_a_facet_with_a_second_one_on_its_back_is_kept_once():
    vertices, faces = cube(20)
    said = "removed facets: 1 there twice or lying back to back"
    assert repaired((vertices, np.concatenate([faces, faces[4:5, ::-1]])), said).volume == pytest.approx(8000)


def test_the_wall_between_two_bodies_that_touch_is_removed():
    vertices, faces = soup(together(box((20, 20, 20)), box((20, 20, 20), (20, 0, 0))))
    mesh = repaired((vertices, faces), "removed facets: 4 there twice or lying back to back")
    assert mesh.volume == pytest.approx(16000)


def _boxes_with_unlike_walls(wall):
    """Two boxes side by side, their walls cut along different diagonals, so that the facets do not cancel."""
    vertices, faces = box((20, 20, 20), (20, 0, 0))
    return soup(together(box((20, 20, 20)), (vertices, np.concatenate([wall, faces[2:]]))))


def test_bodies_whose_walls_touch_stay_two_where_the_walls_are_split_otherwise():
    mesh = repaired(_boxes_with_unlike_walls([(0, 1, 2), (1, 3, 2)]))
    assert mesh.volume == pytest.approx(16000)
    assert volume(mesh) == pytest.approx(16000)


def test_walls_that_face_the_same_way_are_refused():
    told = refusal_of(_boxes_with_unlike_walls([(0, 2, 1), (1, 2, 3)]))
    assert "4 non-manifold edges whose facets do not agree which side is outside" in told


@pytest.mark.parametrize("shift", [(20, 20, 20), (20, 20, 0)], ids=["vertex", "edge"])
def test_cubes_that_touch_at_a_vertex_or_an_edge_are_two_bodies(shift):
    mesh = repaired(soup(together(cube(20), cube(20, shift))))
    assert mesh.volume == pytest.approx(16000)
    assert [round(shell.volume) for shell in components(mesh)] == [8000, 8000]


def skin(cells):
    """The outer and inner surface of unit cubes in a grid: all sides where no neighbour stands."""
    solids = []
    for cell in cells:
        vertices, faces = cube(1, cell)
        a, b, c = (vertices[faces[:, k]] for k in range(3))
        beyond = np.rint(np.cross(b - a, c - a)).astype(int) + cell
        solids.append((vertices, faces[[tuple(step) not in cells for step in beyond.tolist()]]))
    return soup(together(*solids))


def test_a_ring_that_touches_itself_along_an_edge_is_closed():
    ring = {(0, 0, 0), (1, 0, 0), (2, 0, 0), (2, 1, 0), (2, 2, 0), (1, 2, 0), (0, 1, 0), (1, 3, 0)}
    assert (0, 2, 0) not in ring
    mesh = repaired(skin(ring))
    assert mesh.volume == pytest.approx(len(ring))


@pytest.mark.parametrize("seed", range(15))
def test_random_heaps_of_cubes_that_touch_every_way_keep_their_volume(seed):
    """Half the cells of a 5 cube grid: bodies meet in corners and edges, and close round hollows."""
    full = np.random.default_rng(seed).random((5, 5, 5)) < 0.5
    cells = set(map(tuple, np.argwhere(full).tolist()))
    vertices, faces = skin(cells)
    merged = np.unique(vertices, axis=0, return_inverse=True)[1].ravel()[faces]
    assert max(edge_uses(merged).values()) == 4
    mesh, findings = checked_mesh(vertices, faces, "heap.stl")
    assert set(edge_uses(mesh.faces).values()) == {2}
    assert mesh.volume == pytest.approx(len(cells))
    assert volume(mesh) == pytest.approx(len(cells))
    assert volume(Mesh(np.unique(vertices, axis=0), merged)) == pytest.approx(len(cells))
    assert all(finding.kind == "note" for finding in findings)


def test_seams_within_the_rounding_of_single_precision_are_joined():
    vertices, faces = soup(cube(20, (600, 0, 0)))
    step = float(np.spacing(np.float32(610)))
    vertices[faces[0], 0] += step
    mesh = repaired((vertices, faces), f"joined seams that stood up to {step:.1g} mm apart")
    assert mesh.volume == pytest.approx(8000, rel=1e-5)
    assert mesh.surface_error == pytest.approx(step)


def test_seams_below_a_millionth_of_a_millimetre_are_joined_in_silence():
    vertices, faces = soup(cube(2))
    vertices[faces[0]] += 5e-7
    assert repaired((vertices, faces)).surface_error == 0


def test_a_real_gap_is_not_closed():
    vertices, faces = soup(cube(20))
    vertices[faces[0]] += 0.001
    assert "6 open edges" in refusal_of((vertices, faces))


def test_hollows_stay_and_are_noted():
    hollow = together(cube(40), inward(cube(10)))
    assert repaired(soup(hollow), "holds 1 closed hollows").volume == pytest.approx(63000)


def test_a_hollow_body_that_is_inside_out_as_a_whole_is_turned_with_its_hollow():
    hollow = inward(together(cube(40), inward(cube(10))))
    said = "had 1 bodies inside out: turned, volume -63000 became 63000 mm³", "holds 1 closed hollows"
    assert repaired(soup(hollow), *said).volume == pytest.approx(63000)


def test_a_swallowed_body_stays_solid():
    """TC-07d, worked example, own model: a closed 10 cube in a closed 40 cube is an overlap, not a hollow."""
    assert repaired(soup(together(cube(40), cube(10)))).volume == pytest.approx(65000)


def test_one_of_several_bodies_inside_out_is_turned():
    bodies = together(cube(20), inward(cube(10, (50, 0, 0))), cube(4, (90, 0, 0)))
    said = "had 1 bodies inside out: turned, volume 7064 became 9064 mm³"
    assert repaired(soup(bodies), said).volume == pytest.approx(9064)


def test_a_body_inside_out_that_pokes_through_another_is_no_hollow():
    bodies = together(cube(20), inward(box((100, 4, 4))))
    said = "had 1 bodies inside out: turned, volume 6400 became 9600 mm³"
    assert repaired(soup(bodies), said).volume == pytest.approx(9600)


def test_a_ball_in_a_hollow_is_a_body():
    nest = together(cube(40), inward(cube(20)), ball(5, 3))
    assert repaired(soup(nest), "holds 1 closed hollows").volume == pytest.approx(
        64000 - 8000 + signed_volume(ball(5, 3))
    )


def _with_inner_wall():
    """Two boxes side by side with one wall between them for both: its four edges have three facets each."""
    vertices, faces = box((20, 20, 20), (20, 0, 0))
    return soup(together(box((20, 20, 20)), (vertices, faces[2:])))


def _bottle(strips):
    """A closed surface with one side (Klein's bottle as a tube that turns half round; from memory)."""
    u, v = np.meshgrid(np.arange(strips), np.arange(strips), indexing="ij")
    a, b = 2 * np.pi * u / strips, 2 * np.pi * v / strips
    r = 30 + 8 * (np.cos(a / 2) * np.sin(b) - np.sin(a / 2) * np.sin(2 * b))
    z = 8 * (np.sin(a / 2) * np.sin(b) + np.cos(a / 2) * np.sin(2 * b))
    vertices = np.stack([r * np.cos(a), r * np.sin(a), z], axis=2).reshape(-1, 3)

    def number(i, j):
        back = i >= strips
        return np.where(back, (i % strips) * strips + (-j) % strips, i * strips + j % strips)

    corners = [number(u, v), number(u + 1, v), number(u + 1, v + 1), number(u, v + 1)]
    triangles = [np.stack([corners[i].ravel() for i in three], axis=1) for three in ((0, 1, 2), (0, 2, 3))]
    return vertices, np.concatenate(triangles)


@pytest.mark.parametrize(
    ("solid", "told"),
    [
        ((CUBE[0], np.empty((0, 3), dtype=int)), "holds no triangles"),
        ((CUBE[0] * (1, np.nan, 1), CUBE[1]), "8 vertices are not finite"),
        ((np.where(CUBE[0] == CUBE[0][3], np.inf, CUBE[0]), CUBE[1]), "are not finite"),
        ((CUBE[0], CUBE[1] + 1), "name a vertex that does not exist; there are 8"),
        ((CUBE[0], CUBE[1] - 1), "name a vertex that does not exist"),
        ((CUBE[0], np.array([[0, 0, 1], [2, 3, 3]])), "none of its triangles has an area"),
        (_with_inner_wall(), "arm.stl: is not a solid's surface: 4 non-manifold edges, shared by an odd"),
        ((CUBE[0] * (1, 1, 0), CUBE[1]), "4 open edges"),
        ((np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0], [1, 1, 0]]), np.array([[0, 1, 2], [1, 3, 2]])), "4 open edges"),
        (_bottle(12), "one side only"),
    ],
    ids=["none", "nan", "infinite", "index too high", "index below zero", "no area", "inner wall",
         "flattened", "sheet", "one side"],
)  # fmt: skip
def test_what_encloses_no_solid_is_refused(solid, told):
    assert told in refusal_of(solid)


def test_a_flat_closed_surface_encloses_no_volume():
    vertices = np.array([[0, 0, 0], [9, 0, 0], [0, 9, 0], [3, 3, 0]], dtype=float)
    faces = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]])
    assert "encloses no volume" in refusal_of((vertices, faces))
