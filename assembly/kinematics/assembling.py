"""Putting a machine together at rest, and saying plainly why it cannot be put together."""

from __future__ import annotations

import numpy as np

from assembly.errors import AssemblyError, Fault, InputError
from assembly.geometry.mesh import Floats
from assembly.kinematics.bodies import GROUND, Bodies, gather_bodies, moving_joints
from assembly.kinematics.freedoms import IdleRoll, Mobility, Unset, find_idle_rolls, find_unset, mobility
from assembly.kinematics.idle_rolls import roll_rows, ruled_rolls
from assembly.kinematics.joint_rows import joint_equations, with_rolls_held
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.open_loop import not_closed
from assembly.kinematics.row_blocks import System, choose_rows, with_redundant_rows
from assembly.kinematics.rows import Posture
from assembly.kinematics.step import project, rest_posture
from assembly.kinematics.system import Equations
from assembly.model.fault_list import shown
from assembly.model.machine import Machine

REDUNDANT_RESIDUAL = 1e-6
"""mm: rows that say nothing new must hold to this at every posture, or the machine cannot be assembled there."""
JOINTS_TOLD = 4
"""Joints of a loose part that are named."""


def assemble(machine: Machine) -> Mechanism:
    """Put ``machine`` together at rest.

    Raises AssemblyError: an open loop, or a freedom nothing sets; InputError where there is no drive that could, or one
    whose joint cannot move.
    """
    if not moving_joints(machine):
        raise _nothing_moves(machine)
    bodies = gather_bodies(machine)
    _check_driven(machine, bodies)
    joints = joint_equations(machine, bodies)
    rest = np.zeros((1, len(machine.drives)))
    home = project(joints, rest_posture(joints), rest)
    _check_closed(machine, joints, home, rest)
    idle = ruled_rolls(machine, bodies, find_idle_rolls(joints, home))
    equations = with_rolls_held(joints, roll_rows(idle, home, len(machine.drives)))
    home = project(equations, home, rest)
    unset = find_unset(equations, home)
    if unset:
        kind = AssemblyError if machine.drives else InputError
        raise kind(*(_unset_fault(machine, bodies, freedom) for freedom in unset))
    if not machine.drives:
        raise _nothing_moves(machine)
    is_joint = np.arange(len(equations.owners)) < _joint_rows(joints)
    chosen = choose_rows(equations, home, ~is_joint)
    system = System(equations, chosen, with_redundant_rows(equations, chosen))
    return Mechanism(machine, bodies, system, home, idle)


def joint_mobility(machine: Machine) -> tuple[Mobility, tuple[IdleRoll, ...], tuple[Unset, ...]]:
    """Freedoms of ``machine`` at rest with its drives let go, its idle rolls, and what its drives leave unset."""
    bodies = gather_bodies(machine)
    _check_driven(machine, bodies)
    joints = joint_equations(machine, bodies)
    rest = np.zeros((1, len(machine.drives)))
    home = project(joints, rest_posture(joints), rest)
    idle = ruled_rolls(machine, bodies, find_idle_rolls(joints, home))
    held = with_rolls_held(joints, roll_rows(idle, home, len(machine.drives)))
    return mobility(joints, home, rows=_joint_rows(joints)), idle, find_unset(held, home)


def _check_driven(machine: Machine, bodies: Bodies) -> None:
    """Raise InputError for drives of joints within one body: no equation of an unknown could hold against them."""
    faults = []
    for drive in machine.drives.values():
        for joint in (machine.joints[name] for name in drive.ratios):
            body = bodies.body_of[joint.first]
            if body != bodies.body_of[joint.second]:
                continue
            one, other, place = shown(joint.first), shown(joint.second), f"drives.{drive.name}"
            tied = "both stand still" if body == GROUND else "are welded or bolted into one"
            hint = f"let {one} or {other} move, or take {shown(joint.name)} out of the drive"
            message = f"it {drive.kind} {shown(joint.name)}, but {one} and {other} {tied}"
            faults.append(Fault(message, place, machine.file, machine.lines.get(place), hint))
    if faults:
        raise InputError(*faults)


def _joint_rows(joints: Equations) -> int:
    """How many of the rows belong to joints: all but the drives', which come last and have ratios."""
    return int((np.abs(joints.ratios).sum(axis=1) == 0).sum())


def _check_closed(machine: Machine, joints: Equations, home: Posture, rest: Floats) -> None:
    if np.abs(joints.values(home, rest)).max(initial=0.0) <= REDUNDANT_RESIDUAL:
        return
    raise not_closed(machine, joints, home, rest)


def _unset_fault(machine: Machine, bodies: Bodies, freedom: Unset) -> Fault:
    names = ", ".join(bodies.label(body) for body in freedom.bodies)
    moving = [part for body in freedom.bodies for part in bodies.members[body]]
    joints = [joint for joint in moving_joints(machine) if joint.first in moving or joint.second in moving]
    held = ", ".join(f"{joint.name} ({joint.kind.value})" for joint in joints)
    place = f"parts.{moving[0]}"
    if freedom.lasting:
        what = "this freedom has" if freedom.count == 1 else f"these {freedom.count} freedoms have"
        message = f"nothing sets how {names} can move: {what} no drive"
        hint = "add a drive that turns or slides one of their joints, or tie them by a joint"
        if len(joints) <= JOINTS_TOLD:
            hint += f" (now only {held})" if held else " (there is none)"
    else:
        message = f"with all drives at 0 the machine stands at a dead centre: {names} can start to move two ways"
        hint = "draw the machine at another setting, away from the dead centre"
    return Fault(message, place, machine.file, machine.lines.get(place), hint)


def _nothing_moves(machine: Machine) -> InputError:
    hint = "declare a drive that turns or slides a joint, such as `[drives.swing]` with `turns` and `range`"
    return InputError(Fault("no drive moves anything", place="drives", file=machine.file, hint=hint))
