"""How far a rod with a ball at each end can roll about its own line before one of its ends runs out.

At a posture let ``r`` be the rod's line, ``v`` the eye's line (or the bolt, where the rod holds it) and ``u`` the line
on the other side. Rolled by φ the end leans by the angle whose cosine is

    u · (v along r) + cos φ (u · v across r) + sin φ (u · r × v) = a + d cos(φ - middle),

so it keeps its limit L within ``middle`` ± acos((cos L - a) / d). For an eye square to the rod the least lean over all
rolls is asin |u · r| (REFERENCE_VALUES 3.7). Roll is counted from where the model holds the rod, right-handed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.kinematics.joint_motion import WHOLE_TURN, Lean, motions_of, nearest_turn
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.pointing import standing
from assembly.kinematics.rows import Posture
from assembly.kinematics.rows.base import dot

HALF_TURN = 180.0
SAME = 0.01
"""degrees of room for which nothing is turned."""

Rooms = Callable[[Floats], Floats]


@dataclass(frozen=True, slots=True, eq=False)
class RodEndOfRod:
    """One rated end of a rod: its joint, how it leans, and its limit in degrees.

    ``body`` is the body of the rod it is part of, ``axis`` (3,) the rod's line at rest in that body.
    """

    joint: str
    lean: Lean
    limit: float
    body: int
    axis: Floats

    def rolled(self, degrees: float | Floats) -> Lean:
        """How the end leans with the rod rolled by ``degrees``: one roll, or (N,) one for each posture."""
        return self.lean.rolled(self.body, self.axis, degrees)


@dataclass(frozen=True, slots=True, eq=False)
class Rod:
    """Parts that roll as one, and their rated ends; ``number`` is that of the idle roll."""

    number: int
    parts: tuple[str, ...]
    ends: tuple[RodEndOfRod, ...]

    def among(self, bodies: Sequence[int]) -> Rod:
        """The same over these ``bodies`` only, in this order."""
        ends = (replace(end, lean=end.lean.among(bodies), body=bodies.index(end.body)) for end in self.ends)
        return replace(self, ends=tuple(ends))


@dataclass(frozen=True, slots=True, eq=False)
class Windows:
    """Rolls that E ends allow at N postures, in degrees: within ``reach`` (E, N) of ``middle`` (E, N).

    A reach of a whole turn is any roll; one below 0 is none, by about how much the end is beyond its limit.
    """

    middle: Floats
    reach: Floats

    def room(self, rolls: Floats) -> Floats:
        """How far (N,) each of ``rolls`` (N,) may go either way until an end runs out; below 0 where one is out."""
        return np.asarray((self.reach - np.abs(nearest_turn(rolls - self.middle, np.zeros(1)))).min(axis=0))

    def best(self) -> tuple[Floats, Floats]:
        """The roll (N,) that leaves all ends the most room at each posture, and half of that room.

        It lies in the middle of one end's window or of what two ends share, either way round.
        """
        ends, count = self.middle.shape
        rolls, rooms = np.zeros(count), np.full(count, -np.inf)
        for one in range(ends):
            for other in range(one, ends):
                apart = nearest_turn(self.middle[other] - self.middle[one], np.zeros(1))
                for way in (apart, apart - np.copysign(WHOLE_TURN, apart))[: 1 if one == other else 2]:
                    step = (way + np.sign(way) * (self.reach[one] - self.reach[other])) / 2
                    tried = self.middle[one] + np.where(step * way < 0, 0.0, step)
                    room = self.room(tried)
                    better = room > rooms
                    rolls, rooms = np.where(better, tried, rolls), np.where(better, room, rooms)
        return rolls, rooms

    def free(self) -> Floats:
        """Half of the roll (N,) in degrees that all ends allow at each posture; below 0 where none serves."""
        return np.minimum(self.best()[1], HALF_TURN)


def rods_of(mechanism: Mechanism) -> tuple[Rod, ...]:
    """The rods that can roll and have a rated end, in the order of the machine's freedoms; none that is clamped."""
    found = []
    for number, roll in enumerate(mechanism.idle):
        if roll.clamped:
            continue
        axes = {body: mechanism.home.rotations[0, body].T @ roll.axis for body in roll.bodies}
        ends = tuple(_ends(mechanism, roll.bodies, axes))
        parts = tuple(name for body in roll.bodies for name in mechanism.bodies.members[body])
        if ends:
            found.append(Rod(number, parts, ends))
    return tuple(found)


def _ends(mechanism: Mechanism, group: Sequence[int], axes: dict[int, Floats]) -> Iterator[RodEndOfRod]:
    body_of = mechanism.bodies.body_of
    for joint in mechanism.machine.joints.values():
        if joint.misalignment is None or {body_of[joint.first], body_of[joint.second]}.isdisjoint(group):
            continue
        for motion in motions_of(joint, mechanism.bodies):
            if not isinstance(motion, Lean):
                continue
            inside = [body for body in (motion.housing, motion.stud) if body in group]
            if len(inside) == 1:
                yield RodEndOfRod(joint.name, motion, joint.misalignment, inside[0], axes[inside[0]])


def windows(rod: Rod, posture: Posture) -> Windows:
    """The rolls that each end of ``rod`` allows at each of N postures."""
    found = [_window(end, posture) for end in rod.ends]
    return Windows(np.array([middle for middle, _ in found]), np.array([reach for _, reach in found]))


def _window(end: RodEndOfRod, posture: Posture) -> tuple[Floats, Floats]:
    lean = end.lean
    eye, bolt = standing(posture, lean.housing, lean.eye), standing(posture, lean.stud, lean.bolt)
    on_rod, beyond = (eye, bolt) if end.body == lean.housing else (bolt, eye)
    line = standing(posture, end.body, end.axis)
    along = dot(on_rod, line)[:, None] * line
    straight, across = dot(on_rod - along, beyond), dot(np.cross(line, on_rod), beyond)
    size, wanted = np.hypot(straight, across), np.cos(np.deg2rad(end.limit)) - dot(along, beyond)
    share = wanted / np.maximum(size, 1e-12)
    reach = np.rad2deg(np.arccos(np.clip(share, -1.0, 1.0)))
    least = np.rad2deg(np.arccos(np.clip(size + dot(along, beyond), -1.0, 1.0)))
    reach = np.where(share > 1.0, end.limit - least, np.where(share <= -1.0, WHOLE_TURN, reach))
    return np.rad2deg(np.arctan2(across, straight)), reach


def common_roll(found: Windows) -> tuple[float, float]:
    """The one roll in degrees that serves all ends at all postures best, and how far it may go either way.

    That is below 0 where no roll serves them all.
    """
    middle, reach = found.middle.reshape(-1), found.reach.reshape(-1)

    def room(rolls: Floats) -> Floats:
        apart = np.abs(nearest_turn(rolls[:, None] - middle, np.zeros(1)))
        return np.asarray((reach - apart).min(axis=1))

    roll, most = _highest(room)
    return roll, min(most, HALF_TURN)


def best_clocking(found: Windows) -> tuple[float, float]:
    """By how many degrees to turn the second of two ends on the rod for the largest least free roll, and half of that.

    Right-handed about the rod's line, against the first end. Windows that meet on the far side of the rod as well are
    not counted there.
    """
    apart, reach = found.middle[1] - found.middle[0], found.reach.sum(axis=0)
    own = float(found.reach.min())

    def room(turns: Floats) -> Floats:
        shared = (reach - np.abs(nearest_turn(apart - turns[:, None], np.zeros(1)))) / 2
        return np.asarray(np.minimum(shared.min(axis=1), own))

    turn, most = _highest(room)
    return turn, min(most, HALF_TURN)


def _highest(room: Rooms) -> tuple[float, float]:
    """Where ``room`` of an angle is highest, nearest to 0 of equals: a fan over the turn, narrowed about its best."""
    best, width = 0.0, HALF_TURN
    while width > 1e-4:
        angles = best + np.linspace(-width, width, 73)
        values = room(angles)
        highest = np.flatnonzero(values >= values.max() - 1e-9)
        best = float(angles[highest[np.argmin(np.abs(angles[highest]))]])
        width /= 18.0
    at_best, at_rest = room(np.array([best, 0.0])).tolist()
    return (0.0, at_rest) if at_rest > at_best - SAME else (best, at_best)
