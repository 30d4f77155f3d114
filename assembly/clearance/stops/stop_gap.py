"""How high a stop must stand to be struck at given settings, and where one of given height is struck.

The stop's end, a thin slice of it, is moved out along the stop's line by the distance it is still away from the part
that meets it, again and again: it can never pass that part, and comes to stand where it just touches.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from assembly.clearance.narrow_phase.checked_pairs import Exclusion, Solid, without_exclusion
from assembly.clearance.narrow_phase.distance import CollisionModel, contained, nearest
from assembly.geometry.mesh import Flags, Floats, Ids
from assembly.kinematics.mechanism import Mechanism, Solved
from assembly.kinematics.solver import solve
from assembly.model.stop_solids import STOP_FACET_ERROR, stop_solid
from assembly.model.travel_stop import TravelStop

TOUCHING = 1e-4
"""mm: nearer than this counts as touching."""
SLICE = 0.2
"""mm: thickness of the slice that stands for the stop's end."""
LONGEST = 500.0
"""mm: a stop that would have to be longer is never struck."""
MOST_STEPS = 400
WAY_POINTS = 33
"""Settings looked at on the way from rest to the end that a stop takes, before its contact is closed in on."""
BISECTIONS = 16


@dataclass(frozen=True, slots=True, eq=False)
class Meeting:
    """Where a stop is struck: nearest points on it and on the other part in the world, just before they touch."""

    on_stop: Floats
    on_other: Floats
    direction: Floats
    """Unit, from the first point to the second."""
    shape: str
    """Of the other part."""
    error_mm: float
    """How far the true surface of that shape may lie from its facets."""


class StopGap:
    """One stop of a machine, which must not be built into it yet, and the part that meets it."""

    def __init__(self, mechanism: Mechanism, stop: TravelStop) -> None:
        self.mechanism, self.stop = mechanism, stop
        self._made: dict[float, CollisionModel] = {}
        self._end = CollisionModel(_one_shape("end", stop, -SLICE, 0.0))
        self._other = CollisionModel(without_exclusion(mechanism.machine.parts[stop.other], Exclusion(stop.other)))

    @property
    def surface_error(self) -> float:
        """How far in mm the true surface of what meets the stop may lie from its facets, at most."""
        return self._other.solid.mesh.surface_error

    def heights(self, solved: Solved, most: float = LONGEST) -> Floats:
        """Heights (N,) mm at which the stop just touches.

        Infinite where nothing meets it up to ``most`` or the setting is not reached, 0 if there is no room even for
        none.
        """
        places = self._places(solved)
        found = [
            self._height(place, other, most) if reached else np.inf
            for place, other, reached in zip(*places, solved.reached, strict=True)
        ]
        return np.array(found, dtype=np.float64)

    def contacts(self, height: float, column: int, end: float, others: Floats) -> Floats:
        """The setting (M,) of drive ``column`` at which a stop of ``height`` is first struck on the way to ``end``.

        On its end or on its flank, for the slice passes over all of it; from rest, for each setting of the other drives
        in ``others`` (M, d); nan where it never is.
        """
        ways, count = np.linspace(0.0, end, WAY_POINTS), len(others)

        def struck(settings: Floats, rows: Ids) -> Flags:
            solved = solve(self.mechanism, _along(others[rows], column, settings))
            return np.asarray(self.heights(solved, height) <= height)

        hits = struck(np.tile(ways, count), np.repeat(np.arange(count), WAY_POINTS)).reshape(count, WAY_POINTS)
        found = np.where(hits.any(axis=1), ways[hits.argmax(axis=1)], np.nan)
        rows = np.flatnonzero(hits.any(axis=1) & ~hits[:, 0])
        found[rows] = closed_in(lambda settings: struck(settings, rows), found[rows], end / (WAY_POINTS - 1))
        return found

    def meeting(self, height: float, solved: Solved) -> Meeting:
        """Where a stop of ``height`` meets the other part at the one setting, which must be just before they touch."""
        whole = self._whole(height)
        place, other = (each[0] for each in self._places(solved))
        found = nearest(whole, self._other, place, other)
        way = found.point_b - found.point_a
        length = float(np.linalg.norm(way))
        along = place[:3, :3] @ np.array(self.stop.along)
        direction = way / length if length > TOUCHING / 10 else along
        solid = self._other.solid
        number = solid.number_of(found.face_b)
        return Meeting(
            found.point_a, found.point_b, direction, solid.shapes[number], solid.meshes[number].surface_error
        )

    def is_apart(self, height: float, solved: Solved, row: int) -> bool:
        """Whether a stop of ``height`` and the other part are apart at one setting, as far as their surfaces are true.

        False where the setting cannot be reached.
        """
        if not solved.reached[row]:
            return False
        place, other = (each[0] for each in self._places(solved.take(np.array([row]))))
        whole = self._whole(height)
        errors = self.surface_error + STOP_FACET_ERROR
        return nearest(whole, self._other, place, other).distance > errors and not contained(
            whole, self._other, place, other
        )

    def _whole(self, height: float) -> CollisionModel:
        """The whole stop, kept until another height is asked for: many settings are looked at with one."""
        if height not in self._made:
            self._made = {height: CollisionModel(_one_shape("stop", self.stop, 0.0, height))}
        return self._made[height]

    def _places(self, solved: Solved) -> tuple[Floats, Floats]:
        first, second = (
            self.mechanism.world_from_rest(solved.posture, part) for part in (self.stop.carrier, self.stop.other)
        )
        return first, second

    def _height(self, place: Floats, other: Floats, most: float) -> float:
        out = place[:3, :3] @ np.array(self.stop.along)
        moved, height = place.copy(), 0.0
        if contained(self._end, self._other, moved, other):
            return 0.0
        for _ in range(MOST_STEPS):
            moved[:3, 3] = place[:3, 3] + height * out
            left = nearest(self._end, self._other, moved, other).distance
            if left <= TOUCHING:
                return height
            height += left
            if height > most:
                break
        return np.inf


def closed_in(holds: Callable[[Floats], Flags], first: Floats, step: float) -> Floats:
    """The settings (K,) where ``holds`` begins to be true, each between ``first`` less ``step`` and ``first``."""
    low, high = first - step, first.copy()
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        true = holds(middle)
        low, high = np.where(true, low, middle), np.where(true, middle, high)
    return high


def _along(others: Floats, column: int, settings: Floats) -> Floats:
    whole = others.copy()
    whole[:, column] = settings
    return whole


def _one_shape(name: str, stop: TravelStop, low: float, high: float) -> Solid:
    mesh = stop_solid(stop, low, high)
    return Solid(mesh, (name,), (0,), (mesh,))
