"""Surfaces by tetrahedra: closed, outward, and where linear values say (closed forms)."""

import numpy as np
import pytest
from plain_meshes import volume

from assembly.geometry.isosurface import isosurface
from assembly.geometry.shells import edges_of

NODES = np.arange(-8, 9) * 0.75


def lattice():
    return np.meshgrid(NODES, NODES, NODES, indexing="ij")


def test_of_a_linear_function_cut_off_it_is_the_plane_itself():
    """Closed form: the largest of six distances is linear but for its edges; the surface is a box of 2 × 3 × 4."""
    x, y, z = lattice()
    mesh = isosurface(np.maximum.reduce([abs(x) - 2, abs(y) - 3, abs(z) - 4]), 0.0, np.full(3, NODES[0]), 0.75)
    assert mesh.volume == pytest.approx(4 * 6 * 8, rel=0.05)
    flat = mesh.vertices[(abs(mesh.vertices[:, 1]) < 2) & (abs(mesh.vertices[:, 2]) < 3)]
    assert abs(flat[:, 0]) == pytest.approx(2.0, abs=1e-9)


def test_a_ball_is_closed_outward_and_within_what_interpolation_allows():
    """Closed form: the chord of x² over an edge lies above it by at most 3/4 of the step squared."""
    x, y, z = lattice()
    mesh = isosurface(x**2 + y**2 + z**2, 4.3**2, np.full(3, NODES[0]), 0.75)
    edges = edges_of(mesh.faces)
    assert not len(edges.crowded)
    assert not edges.balance.any()
    radii = np.linalg.norm(mesh.vertices, axis=1)
    assert radii.max() <= 4.3 + 0.01
    assert radii.min() ** 2 >= 4.3**2 - 0.75 * 0.75**2 - 0.1
    assert 0 < mesh.volume < 4 / 3 * np.pi * 4.3**3
    assert volume(mesh) == pytest.approx(mesh.volume)
