"""The rolls that the ends of rods allow at given postures, as a fan; and how far a roll can move a pair of parts.

The fan has the ends of every window of rolls, the roll with the most room and steps of a few degrees between them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from assembly.clearance.narrow_phase.bounding_balls import Side
from assembly.clearance.narrow_phase.distance import contained_at
from assembly.clearance.narrow_phase.queries import Bench, Job, job_at
from assembly.clearance.proof.pair_search import PairSearch, PieceSearch
from assembly.clearance.proof.solid_table import Boxes
from assembly.geometry.mesh import Floats, Ids
from assembly.kinematics.idle_rolls import rolled_about
from assembly.kinematics.joint_motion import nearest_turn
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rod_roll import HALF_TURN, Rod, windows
from assembly.kinematics.roll_columns import GRAIN
from assembly.kinematics.rows import Posture
from assembly.time_limit import check_time

STEP, STEP_FREE = 5.0, 10.0
"""degrees between the rolls of a fan: where ends limit the roll, and where none does."""


@dataclass(frozen=True, slots=True, eq=False)
class Fan:
    """M postures, each one of N given ones rolled on: ``rows`` (M,) says which, ``rolls`` (M, k) degrees how far."""

    rows: Ids
    rolls: Floats
    posture: Posture


def fan_of(mechanism: Mechanism, known: Mapping[int, Rod], posture: Posture, numbers: Sequence[int]) -> Fan:
    """Each of N postures, solved with no roll, with the idle rolls ``numbers`` at all rolls of the fan together.

    Where the ends allow no roll, at the one at which they miss least. ``known``: the mechanism's rods by the number of
    their roll.
    """
    count = len(posture)
    fan = Fan(np.arange(count, dtype=np.intp), np.zeros((count, 0)), posture)
    for number in numbers:
        check_time()
        tried, kept = _rolls_tried(known.get(number), fan.posture)
        which, column = np.nonzero(kept)
        degrees = tried[which, column]
        rolled = rolled_about(mechanism.home, fan.posture.take(which), mechanism.idle[number], degrees)
        fan = Fan(fan.rows[which], np.column_stack([fan.rolls[which], degrees]), rolled)
    return fan


def _rolls_tried(rod: Rod | None, posture: Posture) -> tuple[Floats, np.ndarray]:
    """Rolls (N, K) of a fan, rising, and which of them the ends allow."""
    if rod is None:
        tried = np.tile(np.arange(-HALF_TURN, HALF_TURN, STEP_FREE), (len(posture), 1))
        return tried, np.ones(tried.shape, dtype=bool)
    found = windows(rod, posture)
    reach, (best, _) = np.maximum(found.reach - GRAIN / 2, 0.0), found.best()
    steps = np.arange(-HALF_TURN, HALF_TURN, STEP)
    every = [*(found.middle - reach), *(found.middle + reach), *(np.full(len(best), step) for step in steps)]
    kept = np.array([np.ones(len(best), dtype=bool), *(found.room(each) >= -GRAIN for each in every)]).T
    tried = nearest_turn(np.array([best, *every]), np.zeros(1)).T
    order = np.argsort(tried, axis=1, kind="stable")
    return np.take_along_axis(tried, order, axis=1), np.take_along_axis(kept, order, axis=1)


def _with_swallowed(bench: Bench, job: Job, distances: Floats, meet: np.ndarray) -> Floats:
    """``distances`` (N,) with 0 where one of the two, whose boxes ``meet``, lies inside the other."""
    rows = np.flatnonzero(meet & (distances > 0))
    inside = contained_at(
        bench.collision_models[job.a], bench.collision_models[job.b], job.a_from_b[rows], distances[rows]
    )
    left = distances.copy()
    left[rows[inside]] = 0.0
    return left


def least_at_any_roll(
    mechanism: Mechanism, bench: Bench, search: PairSearch, posture: Posture, enough: Floats, useless: Floats
) -> Floats:
    """What (N,) mm the distance is not less than at any roll at all, whatever ends allow, at each of N postures.

    Where boxes show more than ``enough`` (N,) mm nothing is measured. Where a roll shows that no more than ``useless``
    (N,) mm can be proven the others are not looked at, and nothing is: -inf.
    """
    whole, travel = PieceSearch(search, search.a, search.b), roll_travel(mechanism, search)
    if len(search.rolls) > 1:
        return Boxes(mechanism, posture).gaps(whole) - travel
    between = travel * float(np.sin(np.deg2rad(STEP_FREE / 4)))
    idle, least = mechanism.idle[search.rolls[0]], np.full(len(posture), np.inf)
    for roll in _spread(np.arange(-HALF_TURN, HALF_TURN, STEP_FREE)):
        check_time()
        open_ = np.flatnonzero(least - between > useless)
        if not len(open_):
            break
        rolled = rolled_about(mechanism.home, posture.take(open_), idle, np.full(len(open_), roll))
        gaps = Boxes(mechanism, rolled).gaps(whole)
        near = np.flatnonzero((gaps - between < enough[open_]) | (gaps <= 0))
        job = job_at(mechanism, whole.a, whole.b, rolled.take(near))
        gaps[near] = _with_swallowed(bench, job, bench.measure([job])[0], gaps[near] <= 0)
        least[open_] = np.minimum(least[open_], gaps)
    return np.asarray(np.where(least - between > useless, least - between, -np.inf))


def _spread(rolls: Floats) -> list[float]:
    """All ``rolls``, each next one far from those before it: in the order of a van der Corput sequence."""
    width = max(1, (len(rolls) - 1).bit_length())
    return [float(rolls[k]) for k in sorted(range(len(rolls)), key=lambda k: int(f"{k:0{width}b}"[::-1], 2))]


def roll_travel(mechanism: Mechanism, search: PairSearch) -> float:
    """How far, mm, any roll at all can move a point of the one part, seen from the other, of a pair."""
    return sum(
        2.0 * arm_of(mechanism, number, side)
        for side in (search.a, search.b)
        for number in search.rolls
        if number in side.rolls
    )


def arm_of(mechanism: Mechanism, number: int, side: Side) -> float:
    """How far any point of a solid is from the line about which it rolls, mm."""
    roll, place = mechanism.idle[number], mechanism.world_from_rest(mechanism.home, side.part)[0]
    points = side.outline.points @ place[:3, :3].T + place[:3, 3]
    away = np.linalg.norm(np.cross(points - roll.at, roll.axis), axis=1)
    return float((away + side.outline.radii).max())
