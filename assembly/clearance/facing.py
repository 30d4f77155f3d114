"""Bounds from the gap that two pieces face each other across: sharp where they slide or turn along it.

Between two solids that a plane keeps apart, the distance is no less than the width of the widest slab along any one
direction. A slab is carried along with one of the two, and the other's hull comes towards it by what
``motion.approach`` allows. Any direction gives a true bound; the one in which the distance was found gives a sharp one.
"""

from __future__ import annotations

import numpy as np

from assembly.clearance.cells import Cells, Ids
from assembly.clearance.distance import QUERY_TOLERANCE
from assembly.clearance.outline import Side
from assembly.geometry.mesh import Floats
from assembly.motion.approach import least_along, lowest


def facing_bounds(a: Side, b: Side, cells: Cells, ids: Ids, directions: Floats, target: float) -> Floats:
    """Bounds (N,) mm on the clearance of two pieces in the cells ``ids``; -inf where none can reach ``target``.

    ``directions`` (N, 3): from a to b, unit, as a sees them at the cells' centres; zero where there is none.
    """
    bounds = np.full(len(ids), -np.inf)
    rows = np.flatnonzero(directions.any(axis=1))
    if not len(rows):
        return bounds
    bodies, errors = cells.mechanism.bodies.centres, a.surface_error + b.surface_error + QUERY_TOLERANCE
    motion = cells.motion.take(ids[rows])
    normals = np.einsum("nij,nj->ni", motion.posture.rotations[:, a.body], directions[rows])
    top = -lowest(motion, a.body, a.hull, -normals, bodies)
    bottom = lowest(motion, b.body, b.hull, normals, bodies)
    wide = np.flatnonzero(bottom - top - errors >= target)
    motion, normals, rows = motion.take(wide), normals[wide], rows[wide]
    from_a = least_along(motion, b.body, a.body, b.hull, normals, bodies) - top[wide]
    from_b = bottom[wide] + least_along(motion, a.body, b.body, a.hull, -normals, bodies)
    bounds[rows] = np.maximum(from_a, from_b) - errors
    return bounds
