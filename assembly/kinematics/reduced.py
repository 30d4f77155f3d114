"""A machine reduced to some of its independent groups, so that what others add costs them nothing.

Nothing is assembled anew: bodies, rows, chosen rows and blocks are those of the whole machine, with new numbers. So a
posture of the reduced machine is that of the whole one, of fewer bodies and at fewer settings.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, replace
from types import MappingProxyType
from typing import Any

import numpy as np

from assembly.geometry.mesh import Ids
from assembly.kinematics.bodies import GROUND, Bodies
from assembly.kinematics.freedoms import IdleRoll
from assembly.kinematics.mechanism import Mechanism, Submechanism
from assembly.kinematics.row_blocks import RowBlock, System
from assembly.kinematics.rows import Posture, Rows
from assembly.kinematics.system import Equations, Family
from assembly.model.machine import Machine


def submechanism(mechanism: Mechanism, *bodies: int) -> Submechanism:
    """``mechanism``, which rolls nothing, reduced to the groups of ``bodies``; of bodies that never move, to the first.

    The mechanism itself where there are no other groups. Made once for each set of groups.
    """
    groups = mechanism.system.groups
    wanted = tuple(np.unique(groups[list(bodies)][groups[list(bodies)] >= 0]).tolist()) or (0,)
    if len(wanted) > groups.max():
        return unreduced(mechanism)
    return mechanism.reduced.of(
        wanted, lambda own: _reduced(mechanism, np.flatnonzero((groups < 0) | np.isin(groups, own)))
    )


def unreduced(mechanism: Mechanism) -> Submechanism:
    """``mechanism`` with nothing left out."""
    drives = len(mechanism.machine.drives) - len(mechanism.rolls)
    bodies, rolls = np.arange(len(mechanism.bodies)), np.arange(len(mechanism.idle))
    return Submechanism(mechanism, np.arange(drives), bodies, rolls, drives)


def each_group(mechanism: Mechanism) -> tuple[Submechanism, ...]:
    """The mechanism reduced to each of its groups."""
    groups = mechanism.system.groups
    return tuple(submechanism(mechanism, int(np.argmax(groups == number))) for number in range(groups.max() + 1))


def _reduced(mechanism: Mechanism, bodies: Ids) -> Submechanism:
    equations, every = mechanism.equations, range(len(mechanism.bodies))
    number_of = np.searchsorted(bodies, every)
    rows = np.flatnonzero(np.isin(equations.ends, bodies).all(axis=0))
    drives = np.flatnonzero((equations.ratios[rows] != 0).any(axis=0))
    rolls = np.flatnonzero([np.isin(roll.bodies, bodies).all() for roll in mechanism.idle])
    own = _bodies(mechanism.bodies, bodies)
    families = tuple(_families(equations, rows, drives, number_of))
    system = System(
        Equations(families, own, equations.scale),
        np.searchsorted(rows, np.intersect1d(mechanism.system.chosen, rows)),
        tuple(_blocks(mechanism.system, bodies, rows)),
    )
    made = replace(
        mechanism,
        machine=_machine(mechanism.machine, own, drives),
        bodies=own,
        system=system,
        home=Posture(mechanism.home.centres[:, bodies], mechanism.home.rotations[:, bodies]),
        idle=tuple(_idle(mechanism.idle[number], number_of) for number in rolls),
    )
    return Submechanism(made, drives, bodies, rolls, len(mechanism.machine.drives))


def _bodies(every: Bodies, own: Ids) -> Bodies:
    members = tuple(every.members[body] for body in own)
    body_of = {name: number for number, names in enumerate(members) for name in names}
    return Bodies(members, MappingProxyType(body_of), every.centres[own])


def _machine(machine: Machine, bodies: Bodies, drives: Ids) -> Machine:
    names = list(machine.drives)
    joints = {
        name: joint
        for name, joint in machine.joints.items()
        if joint.first in bodies.body_of and joint.second in bodies.body_of
    }
    return replace(
        machine,
        parts={name: part for name, part in machine.parts.items() if name in bodies.body_of},
        joints=joints,
        drives={names[drive]: machine.drives[names[drive]] for drive in drives},
    )


def _families(equations: Equations, rows: Ids, drives: Ids, number_of: Ids) -> Iterator[Family]:
    """What is left of each family with ``rows``."""
    start = 0
    for family in equations.families:
        own = rows[(rows >= start) & (rows < start + len(family))] - start
        start += len(family)
        if len(own):
            yield replace(
                family,
                rows=_rows(family.rows, own, number_of),
                owners=tuple(family.owners[row] for row in own),
                ratios=family.ratios[own][:, drives],
                groups=tuple(family.groups[row] for row in own) if family.groups else (),
                implied=tuple(family.implied[row] for row in own) if family.implied else (),
            )


def _rows(rows: Rows, own: Ids, number_of: Ids) -> Rows:
    """Some rows of a family: every array that it has is one entry for each row."""
    values: dict[str, Any] = {one.name: getattr(rows, one.name) for one in fields(rows)}  # type: ignore[arg-type]  # all are
    arrays = {name: value[own] for name, value in values.items() if isinstance(value, np.ndarray)}
    arrays |= {name: number_of[arrays[name]] for name in ("first", "second")}
    return replace(rows, **arrays)  # type: ignore[type-var]  # all families are dataclasses


def _blocks(system: System, bodies: Ids, rows: Ids) -> Iterator[RowBlock]:
    """The blocks that solve unknowns of ``bodies``; their rows speak of no others."""
    columns = (6 * (bodies[bodies != GROUND, None] - 1) + np.arange(6)).reshape(-1)
    for block in system.blocks:
        if np.isin(block.columns, columns).any():
            own, earlier = (np.searchsorted(columns, one) for one in (block.columns, block.earlier))
            yield RowBlock(np.searchsorted(rows, block.rows), own, earlier, block.firm)


def _idle(roll: IdleRoll, number_of: Ids) -> IdleRoll:
    return replace(roll, bodies=tuple(int(number_of[body]) for body in roll.bodies))
