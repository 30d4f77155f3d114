"""Why a machine does not close at rest: which edited lengths would close it if they were changed, and by how little.

As drawn every joint closes, because both of its parts share the drawn point. What opens a loop is an edit: a part's
own length or point. An edit is set free as one more unknown, its change in mm, and solved for together with the
posture by damped least squares. From where the loops close the change is taken back as far as they stay closed, so
that what is reported is the least that must be changed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import dist
from typing import NamedTuple

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.kinematics.bodies import Bodies
from assembly.kinematics.joint_rows import joint_equations
from assembly.kinematics.rows import Posture
from assembly.kinematics.step import LeastSquares, moved, project, rest_posture, turning_less
from assembly.kinematics.system import Equations
from assembly.model.edits import Edit, JointEnd, changed_ends
from assembly.model.machine import Machine, Vector
from assembly.time_limit import check_time

CLOSED = 1e-6
"""mm: joints that miss by less are closed."""
CHANGE_KNOWN = 1e-3
"""mm: how closely the least change is looked for."""
MOST_PAIRS = 60
"""Pairs of edits that are tried; beyond it all are set free at once."""
_ROUNDS = 60


@dataclass(frozen=True, slots=True)
class Freed:
    """What can be set free as one length: the edits of one place of the file, or a joint whose two ends differ."""

    edits: tuple[Edit, ...]
    ends: tuple[JointEnd, ...]
    place: str

    @property
    def joints(self) -> tuple[str, ...]:
        """The joints that it moves, each once."""
        return tuple(dict.fromkeys(joint for joint, _second in self.ends))


@dataclass(frozen=True, slots=True)
class ClosingChange:
    """One edit that would close the loops if it were ``mm`` longer, or so much nearer to the drawing.

    ``least``: a larger change the same way closes them too; else it is just this one.
    """

    freed: Freed
    mm: float
    least: bool


def remedies(machine: Machine, bodies: Bodies) -> list[tuple[ClosingChange, ...]]:
    """Changes that close ``machine`` at rest, the smallest first; each entry holds those that are needed together.

    One edit where one is enough, else two, else as few as are found by setting all free and taking back what can be.
    Empty where no change of lengths closes it.
    """
    free = freed(machine)
    closing = _Closing(machine, bodies)
    found = [changes for one in free if (changes := closing.changes((one,)))]
    if not found and len(free) * (len(free) - 1) // 2 <= MOST_PAIRS:
        found = [changes for pair in combinations(free, 2) if (changes := closing.changes(pair))]
    if not found and len(free) > 2:
        found = [changes for changes in [closing.changes(tuple(free))] if changes]
    return sorted(found, key=lambda changes: sum(abs(change.mm) for change in changes))


def freed(machine: Machine) -> list[Freed]:
    """Everything that may be to blame, in the order of the file."""
    places: dict[str, list[Edit]] = {}
    for edit in machine.edits:
        if edit.ends and (edit.start or edit.moved > 0):
            places.setdefault(edit.place, []).append(edit)
    found = [
        Freed(tuple(edits), tuple(end for edit in edits for end in edit.ends), place) for place, edits in places.items()
    ]
    told = {joint for one in found for joint in one.joints}
    for name, joint in machine.joints.items():
        if name not in told and joint.at_first != joint.at_second:
            found.append(Freed((), ((name, False),), f"joints.{name}"))
    return found


def gaps(
    machine: Machine, equations: Equations, posture: Posture, settings: Floats, loose: Sequence[str]
) -> dict[str, float]:
    """What each joint of ``machine`` gapes by, mm, when all but the ``loose`` ones are held closed."""
    owners = np.array(equations.owners)
    held = ~equations.ratios.any(axis=1)
    weights = np.where(held & np.isin(owners, loose), 1e-3, 1.0)
    gaping = project(equations, posture, settings, weights)
    values = equations.values(gaping, settings)[0]
    return {name: float(np.linalg.norm(values[held & (owners == name)])) for name in machine.joints}


class _Changed(NamedTuple):
    """How much is changed, mm, the posture, and the rows of the machine as it is changed."""

    values: dict[Freed, float]
    posture: Posture
    equations: Equations


class _Closing:
    """One machine whose edits can be changed."""

    def __init__(self, machine: Machine, bodies: Bodies) -> None:
        self.machine, self.bodies = machine, bodies
        self.rest = np.zeros((1, len(machine.drives)))
        self.drawn = rest_posture(self.equations({}))

    def equations(self, changes: Mapping[Freed, float]) -> Equations:
        """The rows of the machine with its edits changed."""
        places = changed_ends(self.machine.edits, {one.place: mm for one, mm in changes.items()})
        for one, mm in changes.items():
            if not one.edits:
                joint = self.machine.joints[one.ends[0][0]]
                places[one.ends[0]] = _nearer(joint.at_first, joint.at_second, mm)
        joints = dict(self.machine.joints)
        for (name, second), place in places.items():
            joint = joints[name]
            joints[name] = replace(joint, at_second=place) if second else replace(joint, at_first=place)
        return joint_equations(replace(self.machine, joints=joints), self.bodies)

    def changes(self, free: tuple[Freed, ...]) -> tuple[ClosingChange, ...]:
        """The least changes of ``free`` that close the loops; empty where none do. Those that are not needed go."""
        solved = self._solve(free)
        if solved is None:
            return ()
        values, posture = solved
        made = []
        for one in sorted(free, key=lambda one: abs(values[one])):
            far = values[one]
            values[one], posture = self._taken_back(values, one, posture)
            if values[one]:
                made.append(ClosingChange(one, values[one], abs(far - values[one]) > 10 * CHANGE_KNOWN))
        return tuple(made)

    def _solve(self, free: tuple[Freed, ...]) -> tuple[dict[Freed, float], Posture] | None:
        """Changes and posture that close the loops, near to the file and the drawing. None where none are found."""
        start = _Changed(dict.fromkeys(free, 0.0), self.drawn, self.equations(dict.fromkeys(free, 0.0)))

        def jacobian(at: _Changed) -> Floats:
            check_time()
            return np.column_stack([at.equations.jacobian(at.posture)[0], *self._slopes(at.values, at.posture)])

        def stepped(at: _Changed, by: Floats) -> tuple[_Changed, Floats]:
            by = turning_less(by, at.equations.scale, len(free))
            posture = moved(at.posture, by[None, : -len(free)], at.equations.scale)
            values = {one: at.values[one] + mm for one, mm in zip(free, by[-len(free) :].tolist(), strict=True)}
            there = _Changed(values, posture, self.equations(values))
            return there, there.equations.values(posture, self.rest)[0]

        misses = start.equations.values(start.posture, self.rest)[0]
        found, misses = LeastSquares(jacobian, stepped).solve(start, misses, 1e-3 * CLOSED, _ROUNDS)
        return (found.values, found.posture) if np.abs(misses).max(initial=0.0) <= CLOSED else None

    def _slopes(self, values: Mapping[Freed, float], posture: Posture) -> list[Floats]:
        """Derivative (rows,) of the misses over each change; they are linear in it but for lengths in a chain."""
        step = 1e-3
        ends = []
        for one in values:
            up, down = ({**values, one: values[one] + by} for by in (step, -step))
            high, low = (self.equations(each).values(posture, self.rest)[0] for each in (up, down))
            ends.append((high - low) / (2 * step))
        return ends

    def _taken_back(self, values: Mapping[Freed, float], one: Freed, posture: Posture) -> tuple[float, Posture]:
        """How little ``one`` may be changed, the others as in ``values``, and the posture that closes the loops so."""
        short, far = 0.0, values[one]
        without = self._closed({**values, one: 0.0}, posture)
        if without is not None:
            return 0.0, without
        while abs(far - short) > CHANGE_KNOWN:
            middle = (short + far) / 2
            closed = self._closed({**values, one: middle}, posture)
            if closed is None:
                short = middle
            else:
                far, posture = middle, closed
        return far, posture

    def _closed(self, values: Mapping[Freed, float], posture: Posture) -> Posture | None:
        equations = self.equations(values)
        closed = project(equations, posture, self.rest)
        return closed if np.abs(equations.values(closed, self.rest)).max(initial=0.0) <= CLOSED else None


def _nearer(start: Vector, end: Vector, mm: float) -> Vector:
    share = mm / dist(start, end)
    x, y, z = (a + (b - a) * share for a, b in zip(start, end, strict=True))
    return x, y, z
