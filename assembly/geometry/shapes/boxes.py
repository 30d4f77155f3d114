"""The box."""

from __future__ import annotations

from itertools import product

import numpy as np
from numpy.typing import ArrayLike

from assembly.geometry.mesh import Floats, Mesh
from assembly.geometry.shapes.checks import checked_facet_error, checked_point, checked_sizes, number_text, refused

_FACES = np.array(
    [
        *[(0, 1, 3), (0, 3, 2), (4, 6, 7), (4, 7, 5)],
        *[(0, 4, 5), (0, 5, 1), (2, 3, 7), (2, 7, 6)],
        *[(0, 2, 6), (0, 6, 4), (1, 5, 7), (1, 7, 3)],
    ]
)


def box(centre: ArrayLike, size: ArrayLike, *, rotation: ArrayLike | None = None, facet_error: float = 0.02) -> Mesh:
    """A box about ``centre`` (3,) with the edge lengths ``size`` (3,) along x, y and z, in mm.

    ``rotation`` (3, 3) turns it about its centre; ``rotations.rotation_about_axes`` makes one from angles. All faces
    are flat: the surface error is 0 whatever ``facet_error`` asks.
    """
    middle = checked_point("box", "centre", centre)
    lengths = checked_sizes("box", "size", size, 3)
    checked_facet_error("box", facet_error)
    corners = np.array(list(product((-0.5, 0.5), repeat=3))) * lengths
    if rotation is not None:
        corners = corners @ _rotation(rotation).T
    return Mesh(middle + corners, _FACES)


def _rotation(value: ArrayLike) -> Floats:
    try:
        turn = np.array(value, dtype=np.float64)
    except (TypeError, ValueError):
        turn = np.empty(0)
    if turn.shape != (3, 3) or not np.allclose(turn @ turn.T, np.eye(3), atol=1e-9) or np.linalg.det(turn) < 0:
        problem = f"rotation = {number_text(value)} is not a rotation"
        raise refused("box", problem, "give a 3x3 rotation, such as rotation_about_axes makes")
    return turn
