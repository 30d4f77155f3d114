"""Edges and shells of small meshes whose counts are known."""

import numpy as np
from plain_meshes import cube, together

from assembly.geometry.mesh import Mesh
from assembly.geometry.shells import components, edges_of


def test_a_closed_box_has_eighteen_edges_each_shared_by_two_facets():
    edges = edges_of(Mesh(*cube(20)).faces)
    assert len(edges.first) == 18  # 12 edges and 6 diagonals
    assert edges.uses.tolist() == [2] * 18
    assert edges.pairs.shape == (18, 2)
    assert not edges.balance.any()


def test_a_missing_facet_leaves_three_open_edges():
    edges = edges_of(cube(20)[1][1:])
    assert len(edges.open_halves) == 3
    assert np.count_nonzero(edges.balance) == 3


def test_a_turned_facet_unbalances_its_three_edges():
    faces = cube(20)[1]
    faces[4] = faces[4, ::-1]
    assert np.abs(edges_of(faces).balance).tolist().count(2) == 3


def test_three_leaves_on_one_edge_are_crowded():
    assert len(edges_of(np.array([[0, 1, 2], [0, 1, 3], [1, 0, 4]])).crowded) == 1


def test_no_facets_have_no_edges():
    edges = edges_of(np.empty((0, 3), dtype=np.int64))
    assert (len(edges.first), len(edges.pairs), len(edges.balance)) == (0, 0, 0)


def test_shells_come_apart_in_the_order_of_their_first_facets_with_their_own_vertices():
    vertices, faces = together(cube(20), cube(6, (100, 0, 0)), cube(2))
    mixed = np.random.default_rng(1).permutation(len(faces))
    shells = components(Mesh(vertices, faces[mixed], 0.25))
    assert sorted(round(shell.volume) for shell in shells) == [8, 216, 8000]
    assert [len(shell.vertices) for shell in shells] == [8, 8, 8]
    assert {shell.surface_error for shell in shells} == {0.25}
    assert round(shells[0].volume) == (8000, 216, 8)[mixed[0] // 12]


def test_cubes_that_share_a_vertex_or_an_edge_only_are_two_shells():
    for shift in ((20, 20, 20), (20, 20, 0)):
        vertices, faces = together(cube(20), cube(20, shift))
        merged, number = np.unique(vertices, axis=0, return_inverse=True)
        assert len(merged) < 16
        mixed = np.random.default_rng(2).permutation(len(faces))
        shells = components(Mesh(merged, number.ravel()[faces[mixed]]))
        assert [round(shell.volume) for shell in shells] == [8000, 8000]


def test_a_single_shell_is_returned_as_it_is_and_nothing_has_no_shell():
    mesh = Mesh(*cube(20))
    assert components(mesh) == [mesh]
    assert components(Mesh(np.empty((0, 3)), np.empty((0, 3)))) == []
