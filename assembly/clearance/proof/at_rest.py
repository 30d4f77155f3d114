"""Pairs as they stand at rest: measured, or told by two of their points where boxes keep them far apart."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from scipy.spatial.distance import cdist

from assembly.clearance.narrow_phase.bounding_balls import Side
from assembly.clearance.narrow_phase.checked_pairs import CheckedPair, Exclusion, Solid
from assembly.clearance.narrow_phase.distance import contained
from assembly.clearance.narrow_phase.queries import Bench
from assembly.clearance.narrow_phase.witness import Witness, vector
from assembly.clearance.proof.local_search import measure_at
from assembly.clearance.proof.pair_search import PairSearch
from assembly.geometry.mesh import Floats
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.roll_columns import nearest_allowed
from assembly.kinematics.rows import Posture
from assembly.kinematics.solver import solve


def measure_at_rest(mechanism: Mechanism, bench: Bench, searches: Sequence[PairSearch]) -> None:
    """Measure each pair, and find parts that hold another without touching it."""
    home = nearest_allowed(mechanism, np.zeros((1, len(mechanism.machine.drives))))
    measure_at(mechanism, bench, searches, [home] * len(searches))
    posture = solve(mechanism, home).posture
    for search in searches:
        a, b = bench.collision_models[search.a.solid], bench.collision_models[search.b.solid]
        if 0 < search.least < np.inf and contained(a, b, *_places(mechanism, posture, search)):
            search.contained, search.least = True, 0.0


class CornersAtRest:
    """A few corners of each solid of ``solids`` as ``mechanism`` has them at rest."""

    def __init__(self, mechanism: Mechanism, solids: Mapping[Exclusion, Solid]) -> None:
        self._mechanism, self._solids = mechanism, solids
        self._placed: dict[Exclusion, Floats] = {}

    def nearest(self, pair: CheckedPair, a: Side, b: Side) -> Witness:
        """The nearest two corners of both solids of a pair: never less apart than the solids."""
        first, second = self._corners(pair.trim_a, a), self._corners(pair.trim_b, b)
        apart = cdist(first, second)
        i, j = np.unravel_index(np.argmin(apart), apart.shape)
        shape_a = self._solids[pair.trim_a].shape_with(a.outline.points[i])
        shape_b = self._solids[pair.trim_b].shape_with(b.outline.points[j])
        return Witness(float(apart[i, j]), vector(first[i]), vector(second[j]), shape_a, shape_b)

    def _corners(self, exclusion: Exclusion, side: Side) -> Floats:
        if exclusion not in self._placed:
            (place,) = self._mechanism.world_from_rest(self._mechanism.home, side.part)
            self._placed[exclusion] = side.outline.points @ place[:3, :3].T + place[:3, 3]
        return self._placed[exclusion]


def _places(mechanism: Mechanism, posture: Posture, search: PairSearch) -> tuple[Floats, Floats]:
    first, second = (mechanism.world_from_rest(posture, side.part)[0] for side in (search.a, search.b))
    return first, second
