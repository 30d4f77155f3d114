"""How bodies that can roll about their own line are held: the way their line points, and what the file says."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from assembly.errors import Fault, InputError
from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import rotation_from_vector
from assembly.kinematics.bodies import Bodies, moving_joints
from assembly.kinematics.freedoms import IdleRoll
from assembly.kinematics.joint_rows import RollRow
from assembly.kinematics.rows import Posture
from assembly.model.machine import Machine, Vector


def ruled_rolls(machine: Machine, bodies: Bodies, found: Iterable[IdleRoll]) -> tuple[IdleRoll, ...]:
    """The rolls ``found``, each along the way from its first joint to its last, and judged as the file says.

    Raises InputError where the file tells a roll of a part that cannot roll, or two rolls of parts that roll as one.
    """
    rolls = tuple(_ruled(machine, bodies, _directed(machine, bodies, roll)) for roll in found)
    rolling = {name for roll in rolls for name in _parts(bodies, roll)}
    lost = [part.name for part in machine.parts.values() if part.roll is not None and part.name not in rolling]
    if lost:
        raise InputError(*(_cannot_roll(machine, name) for name in lost))
    return rolls


def roll_rows(idle: Iterable[IdleRoll], home: Posture, drives: int) -> list[RollRow]:
    """The row that holds each roll, in the posture ``home`` at rest, with no drive that turns it."""
    return [RollRow(roll.bodies[0], line_in(roll, roll.bodies[0], home), roll.held, np.zeros(drives)) for roll in idle]


def line_in(roll: IdleRoll, body: int, home: Posture) -> Floats:
    """The line (3,) of ``roll`` as drawn in ``body``; ``home`` is the posture at rest."""
    return np.asarray(home.rotations[0, body].T @ roll.axis)


def line_at(roll: IdleRoll, home: Posture, posture: Posture, lead: int) -> tuple[Floats, Floats]:
    """A point (N, 3) mm of the line of ``roll`` and its direction (N, 3) at N postures.

    ``lead``: which body of ``posture`` is the first that it turns; ``home`` is the posture at rest of all.
    """
    first = roll.bodies[0]
    to_point = home.rotations[0, first].T @ (roll.at - home.centres[0, first])
    turned = posture.rotations[:, lead]
    return np.asarray(posture.centres[:, lead] + turned @ to_point), np.asarray(turned @ line_in(roll, first, home))


def rolled_about(
    home: Posture, posture: Posture, roll: IdleRoll, degrees: float | Floats, bodies: Sequence[int] | None = None
) -> Posture:
    """``posture`` with what ``roll`` turns rolled on by ``degrees`` (N,); ``home`` is the posture at rest of all.

    ``bodies``: those of which ``posture`` is, all by default; the first that the roll turns must be one. Nothing else
    moves: the ends lie on the line.
    """
    numbers = {body: row for row, body in enumerate(range(home.centres.shape[1]) if bodies is None else bodies)}
    point, line = line_at(roll, home, posture, numbers[roll.bodies[0]])
    turn = rotation_from_vector(np.deg2rad(np.asarray(degrees, dtype=np.float64))[..., None] * line)
    centres, rotations = posture.centres.copy(), posture.rotations.copy()
    for body in (numbers[body] for body in roll.bodies if body in numbers):
        centres[:, body] = point + (turn @ (centres[:, body] - point)[..., None])[..., 0]
        rotations[:, body] = turn @ rotations[:, body]
    return Posture(centres, rotations)


def _parts(bodies: Bodies, roll: IdleRoll) -> tuple[str, ...]:
    return tuple(name for body in roll.bodies for name in bodies.members[body])


def _directed(machine: Machine, bodies: Bodies, roll: IdleRoll) -> IdleRoll:
    places = [np.array(place) for _, place in ends_of(machine, bodies, roll)]
    return replace(roll, axis=-roll.axis) if (places[-1] - places[0]) @ roll.axis < 0 else roll


def ends_of(machine: Machine, bodies: Bodies, roll: IdleRoll) -> Iterator[tuple[str, Vector]]:
    """The joints that tie what rolls to the rest of the machine, each with its place on what rolls, as drawn."""
    for joint in moving_joints(machine):
        inside = [bodies.body_of[part] in roll.bodies for part in (joint.first, joint.second)]
        if inside[0] != inside[1]:
            yield joint.name, joint.at_first if inside[0] else joint.at_second


def _ruled(machine: Machine, bodies: Bodies, roll: IdleRoll) -> IdleRoll:
    told = [(name, rule) for name in _parts(bodies, roll) if (rule := machine.parts[name].roll) is not None]
    for name, rule in told[1:]:
        if rule != told[0][1]:
            message = f"{name} rolls with {told[0][0]}, for which another roll is given"
            hint = "give the roll once, for one of the parts that roll together"
            raise InputError(Fault(message, place=f"parts.{name}.roll", file=machine.file, hint=hint))
    return replace(roll, rule=told[0][1]) if told else roll


def _cannot_roll(machine: Machine, name: str) -> Fault:
    hint = "only what balls alone tie to the rest can roll about its own line; take `roll` out"
    return Fault(f"{name} cannot roll by itself", place=f"parts.{name}.roll", file=machine.file, hint=hint)
