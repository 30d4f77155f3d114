import numpy as np
import pytest
from picture_scenes import ball, box, rod

from assembly.geometry.mesh import Mesh
from assembly.geometry.scene import Role
from assembly.report.render.palette import PAINTS
from assembly.report.render.shaded_surfaces import surfaces

PAINT = PAINTS[Role.FIRST]


def soup(mesh):
    """The same triangles with no corner shared, as an STL file holds them."""
    return Mesh(mesh.vertices[mesh.faces].reshape(-1, 3), np.arange(3 * len(mesh.faces)))


@pytest.mark.parametrize("shape", [lambda mesh: mesh, soup], ids=["shared corners", "soup"])
def test_a_box_has_twelve_edges_and_flat_faces(shape):
    made = surfaces([(shape(box((30, 20, 10))), PAINT)])
    lengths = np.linalg.norm(made.edges[:, 1] - made.edges[:, 0], axis=1)
    assert sorted(lengths) == pytest.approx([10] * 4 + [20] * 4 + [30] * 4)  # closed form
    assert np.abs(made.normals).max(axis=2) == pytest.approx(1)


@pytest.mark.parametrize("shape", [lambda mesh: mesh, soup], ids=["shared corners", "soup"])
def test_a_ball_is_round_without_edges(shape):
    made = surfaces([(shape(ball(10, splits=3)), PAINT)])
    assert len(made.edges) == 0
    outward = made.triangles / 10
    assert np.einsum("ijk,ijk->ij", outward, made.normals) == pytest.approx(1, abs=2e-3)


def test_a_rod_has_two_round_edges_and_a_round_side():
    made = surfaces([(rod(5, 40, sides=24), PAINT)])
    assert len(made.edges) == 2 * 24
    assert np.abs(made.edges[..., 2]) == pytest.approx(20)
    side = np.abs(made.normals[..., 2]) < 0.5
    radial = made.triangles[side][:, :2] / 5
    assert np.einsum("ij,ij->i", radial, made.normals[side][:, :2]) == pytest.approx(1, abs=2e-3)


def test_an_open_border_is_an_edge():
    made = surfaces([(Mesh(np.eye(3), np.array([[0, 1, 2]])), PAINT)])
    assert len(made.edges) == 3


def test_triangles_without_area_and_empty_solids_are_left_out():
    flat = Mesh(np.array([[0, 0, 0], [1, 0, 0], [2, 0, 0]]), np.array([[0, 1, 2], [0, 0, 1]]))
    empty = Mesh(np.empty((0, 3)), np.empty((0, 3), dtype=int))
    made = surfaces([(flat, PAINT), (empty, PAINT), (box((1, 1, 1)), PAINT)])
    assert len(made.triangles) == 12
    assert (made.owner == 2).all()
    assert not surfaces([(empty, PAINT)])
    assert np.isfinite(made.normals).all()
