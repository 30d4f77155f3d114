"""What turning a rod does: the machine put together anew with the rod longer and shorter, and looked at."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from assembly.errors import AssemblyError
from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import angle_of, sine_vector
from assembly.kinematics.assembling import assemble
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.solver import solve
from assembly.model.machine import Joint, Machine, Vector
from assembly.model.source import tables_of
from assembly.model.threaded_rod import FLATS, ThreadedRod
from assembly.record import LockEntry, RodMeasureEntry, RodStepEntry, RodTurnEntry, TurnedWord
from assembly.studies.rods.rod_figures import RodFigure, rod_figures, values_in
from assembly.studies.shared import point

HALF = 0.5
LEAST_TURN = 1e-9
"""rad: a part that turns by less does not turn."""
LEAST_GROWN = 1e-9
"""mm or degrees: a measure that grows by less is not moved."""
LEAST_LOCK = 0.5
"""Degrees: a drive that turns the part by less sets no lock of it."""


def lengthened(machine: Machine, rod: ThreadedRod, length: float) -> Machine:
    """``machine`` with one rod ``length`` mm from ball to ball: its second end is drawn so much farther out.

    For the kinematics only: the solids of the rod stay where they are drawn.
    """
    start, joint = (_end_of(machine, rod, number) for number in (0, 1))
    moved = _towards(start[1], joint[1], length)
    of = joint[0]
    changed = replace(of, at_first=moved) if of.first == rod.part else replace(of, at_second=moved)
    return replace(machine, joints={**machine.joints, of.name: changed})


def _end_of(machine: Machine, rod: ThreadedRod, number: int) -> tuple[Joint, Vector]:
    joint = machine.joints[rod.ends[number].joint]
    return joint, joint.at_first if joint.first == rod.part else joint.at_second


def _towards(start: Vector, end: Vector, length: float) -> Vector:
    a, b = np.asarray(start), np.asarray(end)
    return point(a + (b - a) * (length / float(np.linalg.norm(b - a))))


@dataclass(frozen=True, slots=True)
class _Step:
    """A turn of the tube, or of the end at ``joint``, and what it makes in mm."""

    turned: TurnedWord
    joint: str
    turns: float
    mm: float


def steps_of(rod: ThreadedRod) -> list[_Step]:
    """A turn, half a turn and a flat of the tube where they alter its length, and half a turn of each kind of end."""
    tube = [_Step("tube", "", turns, turns * rod.per_turn) for turns in (1.0, HALF, 1.0 / FLATS) if rod.per_turn]
    by_pitch = {end.pitch: end for end in reversed(rod.ends)}
    ends = [_Step("end", end.joint, HALF, HALF * end.pitch) for end in reversed(by_pitch.values())]
    return tube + ends


def turned_by(machine: Machine, mechanism: Mechanism, rod: ThreadedRod) -> RodTurnEntry:
    """What the steps of ``rod`` do to the part at one of its ends that a longer rod turns most."""
    steps = steps_of(rod)
    ways = {step.mm: (with_longer(machine, rod, step.mm), with_longer(machine, rod, -step.mm)) for step in steps}
    first = ways[steps[0].mm][0]
    part, lead = _moved_most(machine, mechanism, rod, first)
    about = _axis(lead)

    def degrees(made: Mechanism | None) -> float | None:
        return None if made is None else float(np.rad2deg(_turned(mechanism, made, part) @ about))

    return RodTurnEntry(
        rod=rod.name,
        part=part,
        about=point(about),
        steps=tuple(
            RodStepEntry(each.turned, each.joint, each.turns, each.mm, *map(degrees, ways[each.mm])) for each in steps
        ),
        locks=tuple(_locks(mechanism, first, part, about)),
        locks_mm=steps[0].mm,
        measures=tuple(_measures(mechanism, [ways[step.mm] for step in steps])),
        number=length_number(machine, rod),
    )


def _measures(
    mechanism: Mechanism, ways: Sequence[tuple[Mechanism | None, Mechanism | None]]
) -> Iterator[RodMeasureEntry]:
    """Every measure of the machine, and the toe of every wheel, that a longer or shorter rod moves.

    What the first step that goes together moves neither way is moved by none: so few are looked at in every machine.
    """
    figures = rod_figures(mechanism.machine)
    today = dict(zip(figures, values_in(figures, mechanism), strict=True))
    first = next((way for way in ways if way != (None, None)), (None, None))
    seen = [_grown(figures, made, today) for made in first]
    moved = [one for one in figures if any(abs(each[one] or 0.0) > LEAST_GROWN for each in seen)]
    grown = [[_grown(moved, made, today) for made in side] for side in zip(*ways, strict=True)]
    for one in moved:
        longer, shorter = (tuple(each[one] for each in side) for side in grown)
        yield RodMeasureEntry(one.name, one.unit, today[one] or 0.0, longer, shorter)


def _grown(
    figures: Iterable[RodFigure], made: Mechanism | None, today: Mapping[RodFigure, float | None]
) -> dict[RodFigure, float | None]:
    """By how much each figure is more in a machine than ``today``; None where either is not known."""
    wanted = list(figures)
    values = [None] * len(wanted) if made is None else values_in(wanted, made)
    return {one: _less(value, today[one]) for one, value in zip(wanted, values, strict=True)}


def _less(value: float | None, today: float | None) -> float | None:
    return None if value is None or today is None else value - today


def length_number(machine: Machine, rod: ThreadedRod) -> str:
    """The number of the file that the length of ``rod`` is set by: a dimension, or the part's set length."""
    part = machine.twin_of.get(rod.part, rod.part) if rod.twin_of else rod.part
    if machine.origin is None:
        return ""
    written = tables_of(machine.origin.source)["parts"].get(part, {}).get("set_length")
    if not isinstance(written, dict):
        return ""
    given = written["is"]
    plain = isinstance(given, str) and given in machine.dimensions and not machine.dimensions[given].text
    return str(given) if plain else f"{part}.set_length"


def _axis(lead: Floats) -> Floats:
    """The line (3,) of a rotation vector, its largest part counted as positive; zeros where nothing turns."""
    size = float(np.linalg.norm(lead))
    if size <= LEAST_TURN:
        return np.zeros(3)
    return np.asarray(lead / size * np.sign(lead[np.argmax(np.abs(lead))]))


def with_longer(machine: Machine, rod: ThreadedRod, more: float, also: Sequence[ThreadedRod] = ()) -> Mechanism | None:
    """The machine with the rod, and others, so much longer; None where it does not go together."""
    for one in (rod, *also):
        machine = lengthened(machine, one, one.length + more)
    try:
        return assemble(machine)
    except AssemblyError:
        return None


def _moved_most(
    machine: Machine, mechanism: Mechanism, rod: ThreadedRod, longer: Mechanism | None
) -> tuple[str, Floats]:
    """Of the parts at both ends, the one that turns most, and how, rad (3,)."""
    joints = [machine.joints[end.joint] for end in rod.ends]
    parts = [joint.second if joint.first == rod.part else joint.first for joint in joints]
    if longer is None:
        return parts[-1], np.zeros(3)
    turns = [(_turned(mechanism, longer, part), part) for part in reversed(parts)]
    lead, part = max(turns, key=lambda one: float(np.linalg.norm(one[0])))
    return part, lead


def _turned(before: Mechanism, after: Mechanism, part: str) -> Floats:
    """How a part stands turned at the zero position, against before: rotation vector (3,), rad."""
    was, now = (made.world_from_rest(made.home, part)[0, :3, :3] for made in (before, after))
    return _vector(now @ was.T)


def _vector(rotation: Floats) -> Floats:
    """The rotation vector (3,) of a rotation (3, 3) by less than half a turn, rad."""
    lead = sine_vector(rotation)
    size = float(np.linalg.norm(lead))
    return np.asarray(lead / size * float(angle_of(rotation)) if size > 0 else np.zeros(3))


def _locks(mechanism: Mechanism, longer: Mechanism | None, part: str, about: Floats) -> Iterator[LockEntry]:
    """For each end of each drive that turns the part about the same line, the others at 0; from today's zero."""
    for number, drive in enumerate(mechanism.machine.drives.values()):
        for end in (drive.low, drive.high):
            at = np.zeros((1, len(mechanism.machine.drives)))
            at[0, number] = end
            today, then = (
                None if made is None else _angle_at(mechanism, made, part, at, about) for made in (mechanism, longer)
            )
            if end and today is not None and abs(today) >= LEAST_LOCK:
                yield LockEntry(drive.name, end, today, then)


def _angle_at(mechanism: Mechanism, made: Mechanism, part: str, at: Floats, about: Floats) -> float | None:
    """Degrees that a part of ``made`` stands turned there about a line; None where that setting is not reached."""
    solved = solve(made, at)
    if not solved.reached[0]:
        return None
    home = mechanism.world_from_rest(mechanism.home, part)[0, :3, :3]
    there = made.world_from_rest(solved.posture, part)[0, :3, :3]
    return float(np.rad2deg(_vector(there @ home.T) @ about))
