"""Bounds from the gap that two pieces face each other across: sharp where they slide or turn along it.

Between two solids that a plane keeps apart, the distance is no less than the width of the widest slab along any one
direction. The slab is carried along with a body; the hulls of both solids come towards its middle by what
``approach`` allows. Any direction and any carrier give a true bound. Sharp ones are the direction in which the
distance was found, carried by either solid's body or by one that joints put between them: a head that turns on a
bracket, which turns on a tube, keeps its distance from the tube along a direction that the bracket carries.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembly.clearance.narrow_phase.bounding_balls import Side
from assembly.clearance.narrow_phase.distance import QUERY_TOLERANCE
from assembly.clearance.proof.cells import Cells
from assembly.clearance.proof.lower_bound import Bounds, Method, lower_bound, no_bounds, rounding_in
from assembly.geometry.mesh import Floats, Ids
from assembly.kinematics.approach import fall, lowest
from assembly.kinematics.cell_bounds import BodiesMotion
from assembly.kinematics.travel import Displacement


@dataclass(frozen=True, slots=True, eq=False)
class Directions:
    """From one piece to another: unit vectors (N, 3) as the first sees them, zero if there is none.

    Each was found at the centre of a cell, ``origins`` (N,), which need not be the cell it is used for.
    """

    origins: Ids
    vectors: Floats

    def take(self, index: NDArray[np.intp]) -> Directions:
        """Those at ``index``."""
        return Directions(self.origins[index], self.vectors[index])


def facing_bounds(
    sides: tuple[Side, Side], carriers: Sequence[int], cells: Cells, ids: Ids, directions: Directions, target: float
) -> Bounds:
    """Bounds (N,) mm on the clearance of two pieces in the cells ``ids``; -inf where none can reach ``target``.

    ``carriers``: bodies that may carry the slab; from the cell where a direction was found, they carry it too.
    """
    bounds, (a, b) = no_bounds(len(ids)), sides
    errors = a.surface_error + b.surface_error
    left = np.flatnonzero(directions.vectors.any(axis=1))
    known, directions = cells.motion_of(ids[left], (a.body, b.body, *carriers)), directions.take(left)
    seen = np.einsum("nij,nj->ni", cells.rotations_of(directions.origins, a.body), directions.vectors)
    rows = np.arange(len(left))
    for carrier in carriers:
        if not len(rows):
            break
        motion = known if len(rows) == len(left) else known.take(rows)
        ways = _carried(seen[rows], cells.rotations_of(directions.origins[rows], carrier), motion, carrier)
        still = _lowest(motion, b, ways) + _lowest(motion, a, -ways)
        wide = np.flatnonzero(still - errors - QUERY_TOLERANCE >= target)
        motion, ways = motion.take(wide), ways[wide]
        far = _fall(motion, a, carrier, -ways).plus(_fall(motion, b, carrier, ways))
        bound = lower_bound(Method.FACING, still[wide], far, errors, rounding_in(sides, motion))
        bounds = bounds.raised(left[rows[wide]], bound)
        rows = rows[bounds.lower[left[rows]] < target]
    return bounds


def _lowest(motion: BodiesMotion, side: Side, ways: Floats) -> Floats:
    return lowest(motion.motion, motion.number(side.body), side.hull, ways, motion.rest)


def _fall(motion: BodiesMotion, side: Side, carrier: int, ways: Floats) -> Displacement:
    return fall(motion.motion, motion.number(side.body), motion.number(carrier), side.hull, ways, motion.rest)


def _carried(seen: Floats, rotations: Floats, motion: BodiesMotion, carrier: int) -> Floats:
    """Directions (N, 3), ``seen`` in the world, once ``carrier`` carried them on from where it had ``rotations``."""
    rest = np.einsum("nji,nj->ni", rotations, seen)
    return np.asarray(np.einsum("nij,nj->ni", motion.motion.posture.rotations[:, motion.number(carrier)], rest))
