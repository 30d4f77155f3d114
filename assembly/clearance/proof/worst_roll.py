"""A pair of which a part can roll, at one setting: the worst of all rolls that the ends allow there.

One roll is closed in on: over ``a`` to ``b`` no distance is below (d(a) + d(b) - speed (b - a)) / 2, with ``speed`` the
farthest that a degree moves a point of the one, seen from the other (Lipschitz; closed form).
"""

from __future__ import annotations

from bisect import insort
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from assembly.clearance.narrow_phase.witness import Witness, Witnesses
from assembly.clearance.proof.pair_search import PairSearch
from assembly.clearance.proof.roll_fan import STEP_FREE, fan_of, roll_travel
from assembly.kinematics.idle_rolls import rolled_about
from assembly.kinematics.joint_motion import WHOLE_TURN
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rod_roll import rods_of, windows
from assembly.kinematics.roll_columns import roll_name
from assembly.kinematics.rows import Posture

CLOSE = 0.02
"""mm to which the least over all rolls is closed in on."""
MOST_LOOKS = 400
"""Rolls at which one pair is measured at most."""
MOST_STRIKES = 9
"""Of the rolls at which a pair strikes, the depth is worked out at so many."""


@dataclass(frozen=True, slots=True, eq=False)
class RollLook:
    """A pair at one ``posture`` with its ``rolls`` (k,) in degrees; ``distance`` is 0 where one lies in the other."""

    rolls: tuple[float, ...]
    posture: Posture
    witness: Witness
    distance: float


@dataclass(frozen=True, slots=True, eq=False)
class WorstRoll:
    """``looks``: where a pair strikes, some of these rolls; else the one that is nearest.

    ``unseen`` mm: how much nearer it may come at rolls that were not looked at.
    """

    looks: tuple[RollLook, ...]
    unseen: float = 0.0


def worst_roll(mechanism: Mechanism, witnesses: Witnesses, search: PairSearch, posture: Posture) -> WorstRoll:
    """The worst of ``search``'s pair at the one ``posture``, solved with no roll."""
    known = {rod.number: rod for rod in rods_of(mechanism)}
    fan = fan_of(mechanism, known, posture, search.rolls)
    places = (fan.posture.take(np.array([row])) for row in range(len(fan.rows)))
    near = [witnesses.nearest(search.pair, place) for place in places]
    inside = witnesses.contained_each(search.pair, fan.posture, np.array([one.distance for one in near]))
    found = zip(fan.rolls.tolist(), range(len(near)), near, inside.tolist(), strict=True)
    looks = [
        RollLook(tuple(rolls), fan.posture.take(np.array([row])), one, 0.0 if held else one.distance)
        for rolls, row, one, held in found
    ]
    reach = np.deg2rad(roll_travel(mechanism, search) / 2)
    unseen = reach * STEP_FREE / 2
    if min(look.distance for look in looks) > 0 and len(search.rolls) == 1:
        looks, unseen = _closed_in(mechanism, witnesses, search, posture, (looks, reach))
    strikes = [look for look in looks if look.distance <= 0]
    if strikes:
        some = np.unique(np.linspace(0, len(strikes) - 1, MOST_STRIKES).round().astype(int)).tolist()
        return WorstRoll(tuple(strikes[row] for row in some))
    return WorstRoll((min(looks, key=lambda look: look.distance),), unseen)


def told_rolls(mechanism: Mechanism, search: PairSearch, look: RollLook) -> dict[str, float]:
    """The rolls of a look in degrees, by the names that columns of settings have for them."""
    names = (roll_name(mechanism.bodies, mechanism.idle[number]) for number in search.rolls)
    return dict(zip(names, look.rolls, strict=True))


def _look(witnesses: Witnesses, search: PairSearch, rolls: list[float], posture: Posture, *, apart: bool) -> RollLook:
    """``apart``: neither lies in the other, as is known of a roll from which no contact lies on the way to this one."""
    witness = witnesses.nearest(search.pair, posture)
    inside = not apart and witness.distance > 0 and witnesses.contained(search.pair, posture)
    return RollLook(tuple(rolls), posture, witness, 0.0 if inside else witness.distance)


def _closed_in(
    mechanism: Mechanism,
    witnesses: Witnesses,
    search: PairSearch,
    posture: Posture,
    fan: tuple[list[RollLook], float],
) -> tuple[list[RollLook], float]:
    """More looks between those of a fan, until none between them can be nearer than is needed to tell."""
    looks, speed = list(fan[0]), fan[1]
    (number,) = search.rolls
    enough = search.pair.required + search.surface_error + CLOSE
    around = [*looks, _turned_on(looks[0])]
    open_: list[tuple[float, int, RollLook, RollLook]] = []
    for count, (a, b) in enumerate(pairwise(around)):
        if _allowed(mechanism, posture, number, (a.rolls[0] + b.rolls[0]) / 2):
            insort(open_, (_bound(a, b, speed), count, a, b))
    while open_ and len(looks) < MOST_LOOKS:
        least = min(look.distance for look in looks)
        if least <= 0 or open_[0][0] >= min(least - CLOSE, enough):
            break
        _, _, a, b = open_.pop(0)
        middle = (a.rolls[0] + b.rolls[0]) / 2
        rolled = rolled_about(mechanism.home, posture, mechanism.idle[number], np.array([middle]))
        apart = max(a.distance - speed * (middle - a.rolls[0]), b.distance - speed * (b.rolls[0] - middle)) > 0
        looks.append(_look(witnesses, search, [middle], rolled, apart=apart))
        for order, (one, other) in enumerate(((a, looks[-1]), (looks[-1], b))):
            insort(open_, (_bound(one, other, speed), len(around) + 2 * len(looks) + order, one, other))
    least = min(look.distance for look in looks)
    return looks, max(0.0, least - open_[0][0]) if open_ else 0.0


def _turned_on(look: RollLook) -> RollLook:
    """The same one whole turn on."""
    return RollLook((look.rolls[0] + WHOLE_TURN,), look.posture, look.witness, look.distance)


def _bound(a: RollLook, b: RollLook, speed: float) -> float:
    return (a.distance + b.distance - speed * (b.rolls[0] - a.rolls[0])) / 2


def _allowed(mechanism: Mechanism, posture: Posture, number: int, roll: float) -> bool:
    """Whether the ends allow a roll between two neighbours of a fan, and so all between them."""
    rod = next((rod for rod in rods_of(mechanism) if rod.number == number), None)
    return rod is None or bool(windows(rod, posture).room(np.array([roll]))[0] >= 0)
