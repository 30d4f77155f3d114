import numpy as np
import pytest
from picture_scenes import ball, box, rod

from assembly.geometry.mesh import Mesh
from assembly.report.render.creases import creased, polydata, rounded


def soup(mesh):
    """The same triangles with no corner shared, as an STL file holds them."""
    return Mesh(mesh.vertices[mesh.faces].reshape(-1, 3), np.arange(3 * len(mesh.faces)))


def ends(mesh):
    """Both ends (k, 2, 3) mm of each edge."""
    made = creased(mesh)
    return made.points[made.edges]


def corners(mesh):
    """Places and directions (n, 3, 3) at the corners of each triangle."""
    solid = rounded(polydata(mesh))
    return solid.points[solid.regular_faces], solid.point_data["Normals"][solid.regular_faces]


BOTH = pytest.mark.parametrize("shape", [lambda mesh: mesh, soup], ids=["shared corners", "soup"])


@BOTH
def test_a_box_has_twelve_edges_and_flat_faces(shape):
    edges = ends(shape(box((30, 20, 10))))
    lengths = np.linalg.norm(edges[:, 1] - edges[:, 0], axis=1)
    assert sorted(lengths) == pytest.approx([10] * 4 + [20] * 4 + [30] * 4)  # closed form
    triangles, normals = corners(shape(box((30, 20, 10))))
    assert np.abs(normals).max(axis=2) == pytest.approx(1)
    face = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    assert (np.einsum("ni,nki->nk", face, normals) > 0).all()


@BOTH
def test_a_ball_is_round_without_edges(shape):
    assert len(ends(shape(ball(10, splits=3)))) == 0
    triangles, normals = corners(shape(ball(10, splits=3)))
    assert np.einsum("ijk,ijk->ij", triangles / 10, normals) == pytest.approx(1, abs=2e-3)


def test_a_rod_has_two_round_edges_and_a_round_side():
    edges = ends(rod(5, 40, sides=24))
    assert len(edges) == 2 * 24
    assert np.abs(edges[..., 2]) == pytest.approx(20)
    triangles, normals = corners(rod(5, 40, sides=24))
    side = np.abs(normals[..., 2]) < 0.5
    radial = triangles[side][:, :2] / 5
    assert np.einsum("ij,ij->i", radial, normals[side][:, :2]) == pytest.approx(1, abs=2e-3)


def test_a_rod_of_twelve_sides_is_round_and_one_of_eleven_is_not():
    assert [len(ends(rod(5, 40, sides=sides))) for sides in (12, 11)] == [2 * 12, 3 * 11]


def test_an_open_border_is_an_edge():
    assert len(ends(Mesh(np.eye(3), np.array([[0, 1, 2]])))) == 3


def test_triangles_without_area_and_empty_solids_are_left_out():
    cube = box((1, 1, 1))
    flat = np.array([[0, 0, 1], [0, 1, 1]])
    thin = Mesh(
        np.concatenate([cube.vertices, [[5, 0, 0], [6, 0, 0], [7, 0, 0]]]),
        np.concatenate([cube.faces, flat, [[8, 9, 10]]]),
    )
    made = creased(thin)
    assert (len(made.faces), len(made.edges)) == (12, 12)
    assert np.isfinite(corners(thin)[1]).all()
    empty = creased(Mesh(np.empty((0, 3)), np.empty((0, 3), dtype=int)))
    assert [len(part) for part in (empty.points, empty.faces, empty.edges)] == [0, 0, 0]
