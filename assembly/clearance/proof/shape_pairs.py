"""Two shapes that may stand in each other: how deep at one place, and how deep at the most anywhere in a cell.

A shift that frees the two at a cell's centre by more than they can move against each other frees them all through the
cell; and so does one along a direction by which their hulls can come no deeper there. Every shift tried gives a bound.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from assembly.clearance.narrow_phase.distance import CollisionModel, contained, meets, nearest
from assembly.clearance.narrow_phase.overlap import placed, shapes_deep
from assembly.clearance.narrow_phase.penetration import FIRST_WAYS, penetration
from assembly.clearance.narrow_phase.queries import job_at
from assembly.clearance.proof.cells import Cells
from assembly.clearance.proof.pair_search import PieceSearch
from assembly.geometry.mesh import Floats, Ids
from assembly.kinematics.approach import least_along, lowest
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rows import Posture

WAYS_KEPT = 6
"""Ways out found last, which are tried first elsewhere."""
AT_ONCE = 2_000_000
"""Products worked on together; keeps the working memory near 30 MB."""
STILL = np.eye(4)


@dataclass(slots=True, eq=False)
class ShapePair:
    """A shape of one part and one of another, and the ``piece`` of their search."""

    piece: PieceSearch
    a: CollisionModel
    b: CollisionModel
    ways: list[Floats] = field(default_factory=list)
    """Ways out (3,) as a sees them, those found last at the end."""

    @property
    def convex(self) -> bool:
        """Whether the depth of the hulls is the depth of the shapes."""
        return self.a.convex and self.b.convex

    @property
    def errors(self) -> float:
        """How far in mm the true surfaces may stand deeper in each other than the facets."""
        return self.piece.errors

    def places(self, mechanism: Mechanism, posture: Posture) -> Floats:
        """Where (N, 4, 4) b stands as a sees it."""
        return job_at(mechanism, self.piece.a, self.piece.b, posture).a_from_b

    def may_meet(self, mechanism: Mechanism) -> bool:
        """Whether they meet at rest or may elsewhere; where surfaces never do, a shape that is outside stays so."""
        (place,) = self.places(mechanism, mechanism.home)
        return self.piece.proven <= 0 or meets(self.a, self.b, STILL, place)

    def travel(self, cells: Cells, ids: Ids) -> Floats:
        """How far (N,) mm the two can move against each other in each cell; infinite where that is not proven."""
        return np.asarray(self.piece.displacement(cells.motion_of(ids, self.piece.bodies)).whole)

    def hull_bounds(self, cells: Cells, ids: Ids, ways: Floats) -> Floats:
        """How deep (N,) mm the hulls can stand in each other along ``ways`` (N, 3), as a sees them, in each cell."""
        bodies = cells.motion_of(ids, self.piece.bodies)
        motion, (a, b) = bodies.motion, (bodies.number(body) for body in self.piece.bodies)
        turned = np.einsum("nij,nj->ni", motion.posture.rotations[:, a], ways)
        gap = least_along(motion, b, a, self.piece.b.hull, turned, bodies.rest)
        gap = gap + lowest(motion, a, self.piece.a.hull, -turned, bodies.rest)
        return np.where(motion.certified, self.errors - gap, np.inf)

    def quick(self, places: Floats) -> tuple[Floats, Floats]:
        """Depth (N,) of the hulls along the best of a few directions, and these (N, 3): never less than the depth."""
        ways = np.concatenate([FIRST_WAYS, *[one[None] for one in self.ways]])
        first, second = self.a.corners, self.b.corners
        reach = (ways @ first.T).max(axis=1)
        chunk = max(1, AT_ONCE // (len(ways) * len(second)))
        far = np.concatenate(
            [
                reach - ((ways @ some[:, :3, :3]) @ second.T).min(axis=2) - some[:, :3, 3] @ ways.T
                for some in (places[k : k + chunk] for k in range(0, len(places), chunk))
            ]
            or [np.zeros((0, len(ways)))]
        )
        row = far.argmin(axis=1)
        return far[np.arange(len(far)), row], ways[row]

    def hulls_deep(self, place: Floats) -> tuple[float, Floats]:
        """Depth of the hulls, and the way out as a sees it."""
        found = penetration(self.a.corners, placed(self.b.corners, place))
        self.ways = [*self.ways, found.way][-WAYS_KEPT:]
        return found.depth, found.way

    def deep(self, place: Floats) -> tuple[float, Floats] | None:
        """Depth of the shapes and the way out as a sees it; None where they are apart."""
        found = shapes_deep(self.a, self.b, STILL, place)
        if found is not None:
            self.ways = [*self.ways, found[1]][-WAYS_KEPT:]
        return found

    def free_all_through(self, place: Floats, moved: float, shift: float) -> bool:
        """Whether a shift of b by ``shift`` mm frees it wherever the two have moved by up to ``moved`` mm."""
        for way in reversed(self.ways) if shift else (np.zeros(3),):
            shifted = place.copy()
            shifted[:3, 3] += shift * way
            gap = nearest(self.a, self.b, STILL, shifted).distance
            if gap > moved + self.errors and not contained(self.a, self.b, STILL, shifted):
                return True
        return False
