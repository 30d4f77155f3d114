"""Loads put on the bodies of a posture, and what joints and drives answer, in newtons and newton metres."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import unit
from assembly.kinematics.bodies import GROUND, moving_joints
from assembly.kinematics.rows import HeldRoll
from assembly.kinematics.system import Family
from assembly.model.load_case import LoadCase
from assembly.model.machine import DriveKind, Joint, JointKind, Vector
from assembly.record import EffortEntry, RollEntry
from assembly.statics.multipliers import Settled, Statics

SPLIT = "held more than once: the split depends on stiffness"
"""What is said of a force that equilibrium does not settle."""

NO_ROLL = 1e-6
"""A moment about an idle part's line counts from this share of the whole load."""


@dataclass(frozen=True, slots=True, eq=False)
class Reaction:
    """What a joint's first part puts on its second, in the ground's frame.

    ``at`` (mm) is the joint's point in the second part as it stands; ``moment`` is about it. ``line`` is the unit
    direction, as it stands, of the pin, the slide or the rod end's bolt. The effort of a drive is not in it.
    """

    joint: Joint
    at: Vector
    force: Settled
    """N."""
    moment: Settled
    """N·m."""
    line: Floats | None

    @property
    def unique(self) -> bool:
        """Whether equilibrium settles all of it."""
        return self.force.unique and self.moment.unique

    @property
    def note(self) -> str:
        """Why something is left open, or nothing."""
        return "" if self.unique else SPLIT

    @property
    def axial(self) -> float | None:
        """N along the line; None without a line or where it is open. A rod end takes little of it."""
        return None if self.line is None else self.force.along(self.line)

    @property
    def radial(self) -> float | None:
        """N square to the line; None without a line or where it is open."""
        return None if self.line is None else self.force.across(self.line)


def load_of(statics: Statics, case: LoadCase) -> Floats:
    """``case`` on the unknowns (6 (B - 1),): force N, and moment about the body's centre over scale, N."""
    load = np.zeros(6 * len(statics.mechanism.bodies))
    pushes = [(force.part, force.at, force.newtons) for force in case.forces]
    pushes += [(weight.part, weight.at, case.pull(weight)) for weight in case.weights]
    for part, at, newtons in pushes:
        load += _push(statics, part, place_of(statics, part, at), np.asarray(newtons))
    for moment in case.moments:
        load += _on_body(statics, moment.part, np.zeros(3), 1e3 * np.asarray(moment.newton_metres))
    return load[6:]


def push_between(statics: Statics, pushed: str, against: str, at: Vector, direction: Floats) -> Floats:
    """One newton along the unit ``direction`` on the part ``pushed`` at its point drawn ``at``, and back on the other.

    On the unknowns (6 (B - 1),), as ``load_of``.
    """
    place = place_of(statics, pushed, at)
    return (_push(statics, pushed, place, direction) - _push(statics, against, place, direction))[6:]


def place_of(statics: Statics, part: str, at: Vector) -> Floats:
    """Where (3,) mm the point of ``part`` drawn ``at`` stands."""
    world_from_rest = statics.mechanism.world_from_rest(statics.posture, part)[0]
    return np.asarray(world_from_rest[:3, :3] @ np.asarray(at) + world_from_rest[:3, 3])


def _push(statics: Statics, part: str, place: Floats, newtons: Floats) -> Floats:
    centre = statics.posture.centres[0, statics.mechanism.bodies.body_of[part]]
    return _on_body(statics, part, newtons, np.cross(place - centre, newtons))


def _on_body(statics: Statics, part: str, newtons: Floats, newton_millimetres: Floats) -> Floats:
    body = statics.mechanism.bodies.body_of[part]
    load = np.zeros(6 * len(statics.mechanism.bodies))
    load[6 * body : 6 * body + 3] = newtons
    load[6 * body + 3 : 6 * body + 6] = newton_millimetres / statics.equations.scale
    return load


def reactions(statics: Statics, multipliers: Floats) -> dict[str, Reaction]:
    """The reaction in every joint that lets something move, by name."""
    owners = np.array(statics.equations.owners)
    holds = np.concatenate([np.full(len(family), _is_joint(family)) for family in statics.equations.families])
    return {
        joint.name: _reaction(statics, joint, holds & (owners == joint.name), multipliers)
        for joint in moving_joints(statics.mechanism.machine)
    }


def _is_joint(family: Family) -> bool:
    return not isinstance(family.rows, HeldRoll) and not family.ratios.any()


def _reaction(statics: Statics, joint: Joint, own: Floats, multipliers: Floats) -> Reaction:
    place = place_of(statics, joint.second, joint.at_second)
    lever = place - statics.posture.centres[0, statics.mechanism.bodies.body_of[joint.second]]
    forces = np.where(own[:, None], statics.forces, 0.0)
    moments = np.where(own[:, None], statics.moments - np.cross(lever, statics.forces), 0.0)
    moment = statics.settled(moments.T, multipliers, statics.equations.scale)
    x, y, z = place.tolist()
    return Reaction(
        joint,
        (x, y, z),
        statics.settled(forces.T, multipliers),
        Settled(moment.known / 1e3, moment.open),
        _line(statics, joint),
    )


def _line(statics: Statics, joint: Joint) -> Floats | None:
    drawn, part = (joint.bolt, joint.second) if joint.kind is JointKind.BALL else (joint.along, joint.first)
    if drawn is None or joint.kind is JointKind.UNIVERSAL:
        return None
    return np.asarray(statics.mechanism.world_from_rest(statics.posture, part)[0, :3, :3] @ unit(drawn))


def drive_efforts(statics: Statics, multipliers: Floats) -> tuple[EffortEntry, ...]:
    """What holds each drive, over all joints that it moves: settled always, by the virtual work of its motion."""
    per_setting = -statics.equations.by_settings.T @ multipliers
    efforts = []
    for drive, value in zip(statics.mechanism.machine.drives.values(), per_setting.tolist(), strict=True):
        if drive.kind is DriveKind.TURNS:
            efforts.append(EffortEntry(drive.name, float(np.rad2deg(value)) / 1e3, "N·m"))
        else:
            efforts.append(EffortEntry(drive.name, value, "N"))
    return tuple(efforts)


def rolls(statics: Statics, multipliers: Floats, load: Floats) -> Iterator[RollEntry]:
    """Idle parts that ``load`` would turn about their own lines."""
    start, scale = 0, statics.equations.scale
    for family in statics.equations.families:
        if isinstance(family.rows, HeldRoll):
            for row, part in enumerate(family.owners, start):
                if abs(multipliers[row]) > NO_ROLL * np.linalg.norm(load):
                    yield RollEntry(part, -scale * float(multipliers[row]) / 1e3)
        start += len(family)


def joints_holding(statics: Statics, bodies: tuple[int, ...]) -> tuple[str, ...]:
    """Joints that hold one of ``bodies``, in the order of the file."""
    body_of = statics.mechanism.bodies.body_of
    inside = set(bodies) - {GROUND}
    return tuple(
        joint.name
        for joint in moving_joints(statics.mechanism.machine)
        if inside & {body_of[joint.first], body_of[joint.second]}
    )
