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
from assembly.geometry.mesh import Floats, Ids
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
LOOKED_OVER = 1.5
"""Times a stop's height up to which gaps are measured on the way, so that others of about its height know them."""
CLOSED_IN = 2.0**-16
"""Share of the way between two of these settings to which a contact is closed in on."""
ASIDE = 2.0**-8
"""Share of what is left of it, to each side of where a straight line leads, at which is looked next."""
SLOW = 0.25
"""Where more than this share is left after a look, the line is not trusted for the next."""

Ends = tuple[Floats, Floats]


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
        self._ways: dict[tuple[int, float, bytes], tuple[float, Floats]] = {}
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
        ways, over = np.linspace(0.0, end, WAY_POINTS), self._on_ways(height, column, end, others) - height
        hit = over <= 0
        first, rows = hit.argmax(axis=1), np.flatnonzero(hit.any(axis=1) & ~hit[:, 0])
        found = np.where(hit.any(axis=1), ways[first], np.nan)

        def left(settings: Floats, which: Ids) -> Floats:
            solved = solve(self.mechanism, _along(others[rows[which]], column, settings))
            return self.heights(solved, height * LOOKED_OVER) - height

        ends = first[rows]
        figures = over[rows, ends - 1], over[rows, ends]
        found[rows] = first_below(left, (ways[ends - 1], ways[ends]), figures)
        return found

    def _on_ways(self, height: float, column: int, end: float, others: Floats) -> Floats:
        """Heights (M, S) mm at settings of each way, as far as they are not much above ``height``; kept for others."""
        key = column, end, others.tobytes()
        most, found = self._ways.get(key, (0.0, np.zeros(0)))
        if height > most:
            settings = np.tile(np.linspace(0.0, end, WAY_POINTS), len(others))
            solved = solve(self.mechanism, _along(np.repeat(others, WAY_POINTS, axis=0), column, settings))
            most = height * LOOKED_OVER
            found = self.heights(solved, most).reshape(len(others), WAY_POINTS)
            self._ways[key] = most, found
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


def first_below(figure: Callable[[Floats, Ids], Floats], ends: Ends, known: Ends) -> Floats:
    """Where (K,) each of K figures comes down to 0 on the way between two settings, the ``ends``.

    ``known``: the figures at both, above 0 at the first and not at the second; ``figure`` gives those of the given
    numbers (n,) at settings (n,). It is looked at a little to both sides of where a straight line leads; where that
    leads nowhere, at thirds of the way.
    """
    (low, high), (above, below) = (tuple(one.copy() for one in each) for each in (ends, known))
    tolerance, slow = np.abs(high - low) * CLOSED_IN, np.zeros(len(low), dtype=bool)
    while len(left := np.flatnonzero(np.abs(high - low) > tolerance)):
        way, fall = high[left] - low[left], above[left] - below[left]
        leads = ~slow[left] & np.isfinite(fall)
        aside = np.where(leads, np.maximum(ASIDE, tolerance[left] / np.abs(way) / 2), 1 / 6)
        share = np.clip(np.where(leads, above[left], 0.5) / np.where(leads, fall, 1.0), aside, 1 - aside)
        first, second = low[left] + (share - aside) * way, low[left] + (share + aside) * way
        at_first, at_second = np.split(figure(np.concatenate([first, second]), np.tile(left, 2)), 2)
        for point, value in ((second, at_second), (first, at_first)):
            hit = value <= 0
            high[left[hit]], below[left[hit]] = point[hit], value[hit]
        for point, value in ((first, at_first), (second, np.where(at_first > 0, at_second, 0.0))):
            past = value > 0
            low[left[past]], above[left[past]] = point[past], value[past]
        slow[left] = leads & (np.abs(high[left] - low[left]) > SLOW * np.abs(way))
    return high


def _along(others: Floats, column: int, settings: Floats) -> Floats:
    whole = others.copy()
    whole[:, column] = settings
    return whole


def _one_shape(name: str, stop: TravelStop, low: float, high: float) -> Solid:
    mesh = stop_solid(stop, low, high)
    return Solid(mesh, (name,), (0,), (mesh,))
