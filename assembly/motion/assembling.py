"""Putting a machine together at rest, and saying plainly why it cannot be put together."""

from __future__ import annotations

import numpy as np

from assembly.errors import AssemblyError, Fault, InputError
from assembly.geometry.mesh import Floats
from assembly.model.machine import Machine
from assembly.motion.blocks import System, choose_rows, with_redundant_rows
from assembly.motion.bodies import Bodies, gather_bodies, loop_through, moving_joints
from assembly.motion.freedoms import IdleRoll, Mobility, Unset, find_idle_rolls, find_unset, mobility
from assembly.motion.joint_rows import joint_equations, with_rolls_held
from assembly.motion.mechanism import Mechanism
from assembly.motion.rows import Posture
from assembly.motion.step import project, rest_posture
from assembly.motion.system import Equations

REDUNDANT_RESIDUAL = 1e-6
"""mm: rows that say nothing new must hold to this at every posture, or the machine cannot be assembled there."""


def assemble(machine: Machine) -> Mechanism:
    """Put ``machine`` together at rest. Raises AssemblyError: an open loop, or a freedom nothing sets."""
    if not moving_joints(machine):
        raise _nothing_moves(machine)
    bodies = gather_bodies(machine)
    joints = joint_equations(machine, bodies)
    rest = np.zeros((1, len(machine.drives)))
    home = project(joints, rest_posture(joints), rest)
    _check_closed(machine, joints, home, rest)
    idle = find_idle_rolls(joints, home)
    equations = with_rolls_held(joints, [(roll.bodies[0], roll.axis) for roll in idle])
    home = project(equations, home, rest)
    unset = find_unset(equations, home)
    if unset:
        raise AssemblyError(*(_unset_fault(bodies, freedom) for freedom in unset))
    if not machine.drives:
        raise _nothing_moves(machine)
    jacobian = equations.jacobian(home)[0]
    is_joint = np.arange(len(equations.owners)) < _joint_rows(joints)
    chosen = choose_rows(equations, jacobian, ~is_joint)
    system = System(equations, chosen, with_redundant_rows(equations, chosen))
    return Mechanism(machine, bodies, system, home, mobility(joints, home, rows=_joint_rows(joints)), idle)


def joint_mobility(machine: Machine) -> tuple[Mobility, tuple[IdleRoll, ...], tuple[Unset, ...]]:
    """Freedoms of ``machine`` at rest with its drives let go, its idle rolls, and what its drives leave unset."""
    bodies = gather_bodies(machine)
    joints = joint_equations(machine, bodies)
    rest = np.zeros((1, len(machine.drives)))
    home = project(joints, rest_posture(joints), rest)
    idle = find_idle_rolls(joints, home)
    held = with_rolls_held(joints, [(roll.bodies[0], roll.axis) for roll in idle])
    return mobility(joints, home, rows=_joint_rows(joints)), idle, find_unset(held, home)


def loop_miss(
    machine: Machine, equations: Equations, posture: Posture, settings: Floats
) -> tuple[tuple[str, ...], float]:
    """The loop that does not close and how far its worst joint gapes when all others are held closed."""
    values = np.abs(equations.values(project(equations, posture, settings), settings)[0])
    owners = np.array(equations.owners)
    held = np.array([owner in machine.joints for owner in equations.owners]) & ~equations.ratios.any(axis=1)
    worst = str(owners[int(np.argmax(np.where(held, values, -1.0)))])
    loose = held & (owners == worst)
    gaping = project(equations, posture, settings, np.where(loose, 1e-3, 1.0))
    gap = equations.values(gaping, settings)[0][loose]
    bodies = equations.bodies
    return loop_through(machine, bodies, worst), float(np.linalg.norm(gap))


def _joint_rows(joints: Equations) -> int:
    """How many of the rows belong to joints: all but the drives', which come last and have ratios."""
    return int((np.abs(joints.ratios).sum(axis=1) == 0).sum())


def _check_closed(machine: Machine, joints: Equations, home: Posture, rest: Floats) -> None:
    if np.abs(joints.values(home, rest)).max(initial=0.0) <= REDUNDANT_RESIDUAL:
        return
    loop, miss = loop_miss(machine, joints, home, rest)
    raise AssemblyError(
        Fault(
            f"the machine cannot be put together at rest: the loop {' - '.join(loop)} misses by {miss:.2f} mm",
            place=f"joints.{loop[0]}",
            file=machine.file,
            hint=f"change a length in this loop by about {miss:.2f} mm, or move one of its points",
        )
    )


def _unset_fault(bodies: Bodies, freedom: Unset) -> Fault:
    names = ", ".join(bodies.label(body) for body in freedom.bodies)
    if freedom.lasting:
        return Fault(
            f"nothing sets how {names} can move: this freedom has no drive",
            hint="add a drive that turns or slides one of their joints, or tie them by a joint",
        )
    return Fault(
        f"at rest the machine stands at a dead centre: {names} can start to move two ways",
        hint="draw the machine at another setting, away from the dead centre",
    )


def _nothing_moves(machine: Machine) -> InputError:
    hint = "declare a drive that turns or slides a joint, such as `[drives.swing]` with `turns` and `range`"
    return InputError(Fault("no drive moves anything", place="drives", file=machine.file, hint=hint))
