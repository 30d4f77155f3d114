"""The one shape type: what it says of itself, and of nothing at all."""

import warnings

import numpy as np
import pytest
from plain_meshes import box

from assembly.errors import ShapeError
from assembly.geometry.mesh import Mesh, joined

EMPTY = joined([])


def test_a_box_has_its_volume_and_bounds():
    mesh = Mesh(*box((2, 3, 4), (10, 20, 30)))
    assert mesh.volume == pytest.approx(24)
    assert mesh.bounds.tolist() == [[9, 18.5, 28], [11, 21.5, 32]]


@pytest.mark.parametrize("mesh", [EMPTY, Mesh(np.eye(3), np.zeros((0, 3)))], ids=["nothing", "points alone"])
def test_without_triangles_the_volume_is_nothing(mesh):
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert mesh.volume == 0


def test_the_bounds_of_nothing_are_refused_in_words():
    with pytest.raises(ShapeError, match="an empty mesh has no bounds"):
        _ = EMPTY.bounds
