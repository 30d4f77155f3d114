"""The refusal of a machine that does not close at rest: the loop that misses, and the edit that is to blame."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import ceil, floor

import numpy as np

from assembly.errors import AssemblyError, Fault
from assembly.geometry.mesh import Floats
from assembly.kinematics.bodies import loop_through
from assembly.kinematics.loop_closure import ClosingChange, gaps, remedies
from assembly.kinematics.rows import Posture
from assembly.kinematics.step import project
from assembly.kinematics.system import Equations
from assembly.model.edits import Edit
from assembly.model.machine import Machine

_REFUSED = "the machine cannot be put together as drawn, with all drives at 0"
OTHERS_TOLD = 2
"""Other changes that would close the loops too and are reported."""
LEAST_TOLD = 5e-3
"""mm: a joint that gapes by less is not named."""


def loop_miss(
    machine: Machine, equations: Equations, posture: Posture, settings: Floats
) -> tuple[tuple[str, ...], float]:
    """The loop that does not close and how far its worst joint gapes when all others are held closed."""
    values = np.abs(equations.values(project(equations, posture, settings), settings)[0])
    owners = np.array(equations.owners)
    held = np.array([owner in machine.joints for owner in equations.owners]) & ~equations.ratios.any(axis=1)
    worst = str(owners[int(np.argmax(np.where(held, values, -1.0)))])
    gap = gaps(machine, equations, posture, settings, [worst])
    return loop_through(machine, equations.bodies, worst), gap[worst]


def not_closed(machine: Machine, equations: Equations, posture: Posture, rest: Floats) -> AssemblyError:
    """Why ``machine`` does not close at rest; its ``gaps`` are those that are left with the blamed joints let loose."""
    found = remedies(machine, equations.bodies)
    if not found:
        loop, miss = loop_miss(machine, equations, posture, rest)
        return AssemblyError(_by_loop(machine, loop, miss), gaps={loop[0]: miss})
    best, *others = found
    every = gaps(machine, equations, posture, rest, [joint for change in best for joint in change.freed.joints])
    faults = []
    for change in best:
        worst = max(change.freed.joints, key=lambda joint: round(every[joint], 2))
        loop = loop_through(machine, equations.bodies, worst)
        if not change.freed.edits:
            faults.append(_by_loop(machine, loop, every[worst]))
            continue
        more = [f"and {other.freed.place} with it" for other in best if other is not change]
        more += [f"or instead {_instead(other)}" for other in others[:OTHERS_TOLD]]
        faults.append(_blamed(machine, change, (loop, every), more))
    return AssemblyError(*sorted(faults, key=lambda fault: fault.line or 0), gaps=every)


def _by_loop(machine: Machine, loop: Sequence[str], miss: float) -> Fault:
    """The fault of a loop whose cause no edit of the file shows."""
    place = f"joints.{loop[0]}"
    return Fault(
        f"{_REFUSED}: the loop {' - '.join(loop)} misses by {miss:z.2f} mm",
        place=place,
        file=machine.file,
        line=machine.lines.get(place),
        hint=f"change a length in this loop by about {miss:z.2f} mm, or move one of its points",
    )


def _blamed(
    machine: Machine, change: ClosingChange, loop: tuple[Sequence[str], Mapping[str, float]], more: list[str]
) -> Fault:
    """The fault of one edit."""
    names, every = loop
    edit = change.freed.edits[0]
    also = [
        f"the loop through {joint} by {every[joint]:z.2f} mm"
        for joint in change.freed.joints
        if joint != names[0] and every[joint] >= LEAST_TOLD
    ]
    told = ", ".join([f"the loop {' - '.join(names)} misses by {every[names[0]]:z.2f} mm", *also])
    parts = list(dict.fromkeys(each.part for each in change.freed.edits))
    return Fault(
        f"{_REFUSED}: {told}; {_edited(edit, parts)}",
        place=edit.place,
        file=machine.file,
        line=edit.line,
        hint=", ".join([_closes(change), *more]),
    )


def _edited(edit: Edit, parts: Sequence[str]) -> str:
    """What the file says that is not as drawn."""
    who, many = " and ".join(parts), len(parts) > 1
    if edit.start:
        length = f"{_short(edit.length)} mm from {edit.start} to {edit.point}"
        return f"{who} {'are' if many else 'is'} set to {length}, drawn {_short(edit.drawn_length)} mm"
    return f"{who} {'have' if many else 'has'} {edit.point} {_short(edit.moved)} mm from where it is drawn"


def _closes(change: ClosingChange) -> str:
    """At what length or place the loops close; rounded so that they do."""
    edit = change.freed.edits[0]
    if not edit.start:
        return f"closed with the point {_up(change.mm)} mm nearer to the drawing{' or more' * change.least}"
    at, by = edit.length + change.mm, f"{_up(abs(change.mm))} mm {'shorter' if change.mm < 0 else 'longer'}"
    if not change.least:
        return f"closed at {_short(at)} mm, {by}"
    if change.mm < 0:
        return f"closed from {_short(floor(100 * at) / 100)} mm down, {by} or more"
    return f"closed from {_up(at)} mm up, {by} or more"


def _instead(changes: Sequence[ClosingChange]) -> str:
    """Other edits that would close the loops, in a few words."""
    told = []
    for change in changes:
        edit = change.freed.edits[0] if change.freed.edits else None
        place = change.freed.place + (f" in line {edit.line}" if edit and edit.line else "")
        told.append(f"{place}: {_closes(change)}" if edit else f"{place} moved by {_up(abs(change.mm))} mm")
    return " and ".join(told)


def _up(mm: float) -> str:
    return _short(ceil(100 * mm - 0.01) / 100)


def _short(mm: float) -> str:
    return f"{mm:z.2f}".rstrip("0").rstrip(".")
