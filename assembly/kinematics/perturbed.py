"""A mechanism whose joints are drawn a little elsewhere: the same rows in the same order, about the same centres.

``assembling`` chooses directions square to a joint's line, the middle of a body's joints and the rows that others imply
anew for every machine, and these choices jump. Here the choices of the unperturbed mechanism are kept: levers move with
the joint's place, directions turn with its line by the shortest turn, so that the rows' values at one posture change
smoothly. Bodies keep the points about which their motion is given, so a posture means the same in both.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import skew
from assembly.kinematics.freedoms import IdleRoll
from assembly.kinematics.idle_rolls import line_in
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.roll_columns import roll_line
from assembly.kinematics.row_blocks import System
from assembly.kinematics.rows import HeldRoll, Offset, Rows, SamePoint, Square, Turn
from assembly.kinematics.system import Equations, Family
from assembly.model.machine import Drive, Joint, JointKind, Vector

ON_LINE = 1e-3
"""mm: joints that lie no farther from the line about which a body rolls are on it."""


def perturbed(mechanism: Mechanism, joints: Mapping[str, Joint], drives: Mapping[str, Drive]) -> Mechanism:
    """``mechanism`` with ``joints`` and ``drives`` of the same names in the place of its own; those it lacks are left.

    What is kept of it, its posture at rest among them, is that of the unperturbed one: only rows, and what is measured
    at a given posture, may be asked of it. Where nothing is changed it is ``mechanism`` itself.
    """
    machine = mechanism.machine
    changed = {name: joint for name, joint in joints.items() if joint != machine.joints[name]}
    if not changed and all(drives[name] == machine.drives[name] for name in drives):
        return mechanism
    idle = tuple(_idle(mechanism, roll, changed) for roll in mechanism.idle)
    axes = {
        roll.bodies[0]: line_in(roll, roll.bodies[0], mechanism.home)
        for roll, before in zip(idle, mechanism.idle, strict=True)
        if roll is not before
    }
    ratios = _ratios(mechanism, drives)
    families = tuple(
        replace(
            family,
            rows=_rows(family, machine.joints, changed, axes),
            ratios=ratios.get(number, family.ratios),
        )
        for number, family in enumerate(mechanism.equations.families)
    )
    old = mechanism.equations
    system = System(Equations(families, old.bodies, old.scale), mechanism.system.chosen, mechanism.system.blocks)
    ranges = {name: drives.get(name, drive) for name, drive in machine.drives.items()}
    made = replace(machine, joints={**machine.joints, **changed}, drives=ranges)
    return replace(mechanism, machine=made, system=system, idle=idle)


def shortest_turn(before: Vector | None, after: Vector | None) -> Floats:
    """The rotation (3, 3) that takes one unit direction to another by the shortest way; none if there are none."""
    if before is None or after is None or before == after:
        return np.eye(3)
    a, b = np.asarray(before), np.asarray(after)
    turn = skew(np.cross(a, b))
    return np.asarray(np.eye(3) + turn + turn @ turn / (1.0 + a @ b))


def _rows(
    family: Family, joints: Mapping[str, Joint], changed: Mapping[str, Joint], axes: Mapping[int, Floats]
) -> Rows:
    """The rows of one family with what belongs to ``changed`` joints, and rolled about other ``axes``, moved."""
    rows, own = family.rows, [number for number, owner in enumerate(family.owners) if owner in changed]
    if isinstance(rows, HeldRoll):
        stands = np.array(
            [axes.get(int(body), axis) for body, axis in zip(rows.second, rows.axis, strict=True)], dtype=np.float64
        )
        return replace(rows, axis=stands)
    if not own:
        return rows
    pairs = [(number, joints[family.owners[number]], changed[family.owners[number]]) for number in own]
    if isinstance(rows, SamePoint):
        first, second = _levers(rows, pairs)
        return replace(rows, lever_first=first, lever_second=second)
    if isinstance(rows, Offset):
        direction = _turned(rows.direction, [(number, _along(old, new)) for number, old, new in pairs])
        first, second = _levers(rows, pairs)
        return replace(rows, lever_first=first, lever_second=second, direction=direction)
    if isinstance(rows, Turn):
        turns = [(number, _along(old, new)) for number, old, new in pairs]
        return replace(rows, axis=_turned(rows.axis, turns), mark=_turned(rows.mark, turns))
    if isinstance(rows, Square):
        first = _turned(rows.direction_first, [(number, _along(old, new)) for number, old, new in pairs])
        second = _turned(rows.direction_second, [(number, _across(old, new)) for number, old, new in pairs])
        cosine = np.einsum("mi,mi->m", first, second)
        return replace(rows, direction_first=first, direction_second=second, cosine=cosine)
    raise TypeError(f"no perturbation is known for {type(rows).__name__}")


def _levers(rows: SamePoint | Offset, pairs: list[tuple[int, Joint, Joint]]) -> tuple[Floats, Floats]:
    first, second = rows.lever_first.copy(), rows.lever_second.copy()
    for number, old, new in pairs:
        first[number] += np.subtract(new.at_first, old.at_first)
        second[number] += np.subtract(new.at_second, old.at_second)
    return first, second


def _turned(directions: Floats, turns: list[tuple[int, Floats]]) -> Floats:
    made = directions.copy()
    for number, turn in turns:
        made[number] = turn @ made[number]
    return made


def _along(old: Joint, new: Joint) -> Floats:
    return shortest_turn(old.along, new.along)


def _across(old: Joint, new: Joint) -> Floats:
    """How the direction in the second part turns: that of a universal joint has a line of its own."""
    if old.kind is JointKind.UNIVERSAL:
        return shortest_turn(old.along_second, new.along_second)
    return _along(old, new)


def _idle(mechanism: Mechanism, roll: IdleRoll, changed: Mapping[str, Joint]) -> IdleRoll:
    """``roll`` with the line through the joints at its ends where they are now; itself where they have not moved."""
    lead = roll.bodies[0]
    parts = mechanism.bodies.members[lead]
    at, along = roll_line(mechanism, lead, roll)
    ends: list[tuple[float, Floats, Floats]] = []
    for name, old in mechanism.machine.joints.items():
        new = changed.get(name, old)
        for part, before, after in (
            (old.first, old.at_first, new.at_first),
            (old.second, old.at_second, new.at_second),
        ):
            off = np.subtract(before, at)
            if part in parts and np.linalg.norm(np.cross(off, along)) <= ON_LINE:
                ends.append((float(off @ along), np.asarray(before), np.asarray(after)))
    if len(ends) < 2:
        return roll
    (_, low, new_low), (_, high, new_high) = min(ends, key=lambda end: end[0]), max(ends, key=lambda end: end[0])
    if np.linalg.norm(high - low) <= ON_LINE or (np.array_equal(low, new_low) and np.array_equal(high, new_high)):
        return roll
    turn = shortest_turn(_unit(high - low), _unit(new_high - new_low))
    return replace(roll, axis=mechanism.home.rotations[0, lead] @ turn @ along)


def _unit(vector: Floats) -> Vector:
    x, y, z = (vector / np.linalg.norm(vector)).tolist()
    return x, y, z


def _ratios(mechanism: Mechanism, drives: Mapping[str, Drive]) -> dict[int, Floats]:
    """The ratios of the families of driven joints, by their number, where a drive moves them otherwise than before."""
    own = mechanism.machine.drives
    if all(drives.get(name, drive).ratios == drive.ratios for name, drive in own.items()):
        return {}
    made: dict[int, Floats] = {}
    for number, family in enumerate(mechanism.equations.families):
        factor = np.deg2rad(1.0) if isinstance(family.rows, Turn) else 1.0
        if isinstance(family.rows, Turn | Offset) and family.ratios.any():
            ratios = family.ratios.copy()
            for column, (name, drive) in enumerate(own.items()):
                for row, owner in enumerate(family.owners):
                    if ratios[row, column]:
                        ratios[row, column] = factor * drives.get(name, drive).ratios[owner]
            made[number] = ratios
    return made
