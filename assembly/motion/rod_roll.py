"""How far a rod with a ball at each end can roll about its own line before one of its ends runs out.

At a posture let ``r`` be the rod's line, ``v`` the eye's line (or the bolt, where the rod holds it) and ``u`` the line on
the other side. Rolled by φ the end leans by the angle whose cosine is

    u · (v along r) + cos φ (u · v across r) + sin φ (u · r × v) = a + d cos(φ - middle),

so it keeps its limit L within ``middle`` ± acos((cos L - a) / d). For an eye square to the rod the least lean over all
rolls is asin |u · r| (REFERENCE_VALUES 3.7). Roll is counted from where the model holds the rod, right-handed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.motion.joint_motion import Lean, motions_of, nearest_turn
from assembly.motion.mechanism import Mechanism
from assembly.motion.rows import Posture
from assembly.motion.rows.base import dot

HALF_TURN = 180.0

Rooms = Callable[[Floats], Floats]


@dataclass(frozen=True, slots=True, eq=False)
class RodEndOfRod:
    """One rated end of a rod: its joint, how it leans, its limit in degrees, and the body of the rod it is part of."""

    joint: str
    lean: Lean
    limit: float
    body: int


@dataclass(frozen=True, slots=True, eq=False)
class Rod:
    """Parts that roll as one about ``axis`` (3,), a direction of the rod at rest, and their rated ends."""

    parts: tuple[str, ...]
    axis: Floats
    ends: tuple[RodEndOfRod, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Windows:
    """Rolls that E ends allow at N postures: ``middle`` and ``reach`` (E, N) in degrees, from middle less reach to
    middle plus reach; a reach of 180 is any roll, one below 0 none (by about how much the end is beyond its limit).
    """

    middle: Floats
    reach: Floats

    def turned(self, degrees: float) -> Windows:
        """The windows with the second end clocked by ``degrees`` against the first."""
        return Windows(self.middle - np.array([[0.0], [degrees]])[: len(self.middle)], self.reach)

    def free(self) -> Floats:
        """Half of the roll (N,) in degrees that all ends allow at each posture; below 0 where none serves."""
        if len(self.reach) == 1:
            return self.reach[0]
        apart = np.abs(nearest_turn(self.middle[1] - self.middle[0], np.zeros(self.middle.shape[1])))
        shared = (self.reach.sum(axis=0) - apart) / 2
        return np.asarray(np.minimum(self.reach.min(axis=0), shared))


def rods(mechanism: Mechanism) -> tuple[Rod, ...]:
    """The rods that can roll and have a rated end, in the order of the machine's freedoms."""
    found = []
    for roll in mechanism.idle:
        ends = tuple(_ends(mechanism, roll.bodies))
        parts = tuple(name for body in roll.bodies for name in mechanism.bodies.members[body])
        if ends:
            axis = mechanism.home.rotations[0, roll.bodies[0]].T @ roll.axis
            found.append(Rod(parts, axis, ends))
    return tuple(found)


def _ends(mechanism: Mechanism, group: Sequence[int]) -> Iterator[RodEndOfRod]:
    for joint in mechanism.machine.joints.values():
        for motion in motions_of(joint, mechanism.bodies):
            if not isinstance(motion, Lean) or joint.misalignment is None:
                continue
            inside = [body for body in (motion.housing, motion.stud) if body in group]
            if len(inside) == 1:
                yield RodEndOfRod(joint.name, motion, joint.misalignment, inside[0])


def windows(rod: Rod, posture: Posture) -> Windows:
    """The rolls that each end of ``rod`` allows at each of N postures."""
    found = [_window(rod, end, posture) for end in rod.ends]
    return Windows(np.array([middle for middle, _ in found]), np.array([reach for _, reach in found]))


def _window(rod: Rod, end: RodEndOfRod, posture: Posture) -> tuple[Floats, Floats]:
    lean, rotations = end.lean, posture.rotations
    eye, bolt = rotations[:, lean.housing] @ lean.eye, rotations[:, lean.stud] @ lean.bolt
    on_rod, beyond = (eye, bolt) if end.body == lean.housing else (bolt, eye)
    line = rotations[:, end.body] @ rod.axis
    along = dot(on_rod, line)[:, None] * line
    straight, across = dot(on_rod - along, beyond), dot(np.cross(line, on_rod), beyond)
    size, wanted = np.hypot(straight, across), np.cos(np.deg2rad(end.limit)) - dot(along, beyond)
    share = wanted / np.maximum(size, 1e-12)
    reach = np.rad2deg(np.arccos(np.clip(share, -1.0, 1.0)))
    least = np.rad2deg(np.arccos(np.clip(size + dot(along, beyond), -1.0, 1.0)))
    return np.rad2deg(np.arctan2(across, straight)), np.where(share > 1.0, end.limit - least, reach)


def common_roll(found: Windows) -> tuple[float, float]:
    """The roll in degrees, of one turn, that serves all ends at all postures best, and half of the room it has;
    below 0 where none serves them all.
    """
    middle, reach = found.middle.reshape(-1), found.reach.reshape(-1)

    def room(rolls: Floats) -> Floats:
        apart = np.abs(nearest_turn(rolls[:, None] - middle, np.zeros((len(rolls), len(middle)))))
        return np.asarray((reach - apart).min(axis=1))

    return _highest(room)


def best_clocking(found: Windows) -> tuple[float, float]:
    """By how many degrees to turn the second end's side of the rod against the first for the largest least free roll,
    and half of that roll.
    """

    def room(turns: Floats) -> Floats:
        return np.array([found.turned(turn).free().min() for turn in turns])

    return _highest(room)


def _highest(room: Rooms) -> tuple[float, float]:
    """Where ``room`` of an angle is highest: by a fan over the whole turn, narrowed about its best; nearest to 0 of
    equals.
    """
    best, width = 0.0, HALF_TURN
    while width > 1e-4:
        angles = best + np.linspace(-width, width, 73)
        values = room(angles)
        highest = np.flatnonzero(values >= values.max() - 1e-9)
        best = float(angles[highest[np.argmin(np.abs(angles[highest]))]])
        width /= 18.0
    return best, float(room(np.array([best]))[0])
