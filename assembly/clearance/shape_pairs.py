"""Two shapes that may stand in each other: how deep at one place, and how deep at the most anywhere in a cell.

A shift that frees the two at a cell's centre by more than they can move against each other frees them all through the
cell; and so does one along a direction by which their hulls can come no deeper there. Every shift tried gives a bound.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from assembly.clearance.distance import QUERY_TOLERANCE, Probe, nearest, swallowed
from assembly.clearance.outline import Outline, Side, outline_round
from assembly.clearance.overlap import placed, shapes_deep
from assembly.clearance.penetration import FIRST_WAYS, penetration, shifts_along
from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import inverse_rigid
from assembly.motion.approach import Cloud, cloud_of, least_along, lowest
from assembly.motion.cell_motion import CellMotion
from assembly.motion.travel import travel

WAYS_KEPT = 6
"""Ways out found last, which are tried first elsewhere."""
STILL = np.eye(4)


@dataclass(slots=True, eq=False)
class ShapePair:
    """Shape ``a`` of one part and ``b`` of another, with the bodies that carry them."""

    a: Probe
    b: Probe
    body_a: int
    body_b: int
    outlines: tuple[Outline, Outline]
    clouds: tuple[Cloud, Cloud]
    ways: list[Floats] = field(default_factory=list)
    """Ways out (3,) as a sees them, those found last at the end."""

    @property
    def convex(self) -> bool:
        """Whether the depth of the hulls is the depth of the shapes."""
        return self.a.convex and self.b.convex

    @property
    def errors(self) -> float:
        """How far in mm the true surfaces may stand deeper in each other than the facets."""
        return self.a.solid.mesh.surface_error + self.b.solid.mesh.surface_error + QUERY_TOLERANCE

    def travel(self, motion: CellMotion, centres: Floats) -> Floats:
        """How far (N,) mm the two can move against each other in each cell; infinite where that is not proven."""
        first, second = self.outlines
        a_seen = travel(motion, self.body_a, self.body_b, first.points, first.radii, centres)
        b_seen = travel(motion, self.body_b, self.body_a, second.points, second.radii, centres)
        return np.minimum(a_seen, b_seen)

    def hull_bounds(self, motion: CellMotion, ways: Floats, centres: Floats) -> Floats:
        """How deep (N,) mm the hulls can stand in each other along ``ways`` (N, 3), world, that a carries along."""
        first, second = self.clouds
        gap = least_along(motion, self.body_b, self.body_a, second, ways, centres)
        gap = gap + lowest(motion, self.body_a, first, -ways, centres)
        return np.where(motion.certified, -gap + self.errors, np.inf)

    def quick(self, a_from_b: Floats) -> tuple[float, Floats]:
        """Depth of the hulls along the best of a few directions, and it: never less than the depth."""
        ways = np.concatenate([FIRST_WAYS, *[one[None] for one in self.ways]])
        far = shifts_along(self.a.corners, placed(self.b.corners, a_from_b), ways)
        row = int(np.argmin(far))
        return float(far[row]), ways[row]

    def hulls_deep(self, a_from_b: Floats) -> tuple[float, Floats]:
        """Depth of the hulls, and the way out as a sees it."""
        found = penetration(self.a.corners, placed(self.b.corners, a_from_b))
        self.ways = [*self.ways, found.way][-WAYS_KEPT:]
        return found.depth, found.way

    def deep(self, a_from_b: Floats) -> tuple[float, Floats] | None:
        """Depth of the shapes and the way out as a sees it; None where they are apart."""
        found = shapes_deep(self.a, self.b, STILL, a_from_b)
        if found is not None:
            self.ways = [*self.ways, found[1]][-WAYS_KEPT:]
        return found

    def free_all_through(self, a_from_b: Floats, moved: float, shift: float, way: Floats) -> bool:
        """Whether a shift of b by ``shift`` mm frees it wherever the two have moved by up to ``moved`` mm."""
        for tried in (way, *reversed(self.ways)) if shift else (way,):
            place = a_from_b.copy()
            place[:3, 3] += shift * tried
            gap = nearest(self.a, self.b, STILL, place).distance
            if gap > moved + self.errors and not swallowed(self.a, self.b, STILL, place):
                return True
        return False


def pairs_of_shapes(a: Side, b: Side, first: Probe, second: Probe) -> list[ShapePair]:
    """Every shape of the one part with every shape of the other."""
    sides = (
        [(piece, outline_round(piece.corners), cloud_of(piece.corners)) for piece in probe.pieces]
        for probe in (first, second)
    )
    ones, others = sides
    return [
        ShapePair(one, other, a.body, b.body, (outline, outline_b), (cloud, cloud_b))
        for one, outline, cloud in ones
        for other, outline_b, cloud_b in others
    ]


def seen_from_a(world_from_a: Floats, world_from_b: Floats) -> Floats:
    """Places (N, 4, 4) of b as a sees it."""
    return np.asarray(inverse_rigid(world_from_a) @ world_from_b)
