"""The frame that places a section, a hexagon or a turned solid round its line."""

from __future__ import annotations

from math import radians, sin

import numpy as np
from numpy.typing import ArrayLike

from assembly.geometry.mesh import Floats
from assembly.geometry.shapes.checks import checked_direction, number_text, refused

_PARALLEL = sin(radians(1))
"""Below this sine two directions are too nearly parallel to tell sideways by."""


def crosswise(along: Floats, up: ArrayLike | None = None, shape: str = "") -> Floats:
    """Right-handed frame (3, 3) with columns along, side, up.

    ``along`` is a unit vector. ``up`` is laid square to it; without one z is up, or x where the line runs along z.
    ShapeError (of ``shape``) where ``up`` runs along the line.
    """
    if up is not None:
        upward = checked_direction(shape, "up", up)
        if np.linalg.norm(np.cross(along, upward)) < _PARALLEL:
            raise refused(
                shape, f"up = {number_text(up)} runs along the line itself", "give a direction across the line"
            )
    else:
        upward = np.array([0.0, 0.0, 1.0] if np.hypot(along[0], along[1]) >= _PARALLEL else [1.0, 0.0, 0.0])
    side = np.cross(upward, along)
    side /= np.linalg.norm(side)
    return np.column_stack([along, side, np.cross(along, side)])
