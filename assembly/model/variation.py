"""The numbers of a machine that variants change: those of its file, heights of its stops, and washers at its joints."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

from assembly.errors import Fault, InputError
from assembly.model.allowed import Allowed, steps_between
from assembly.model.fault_list import nearest, shown
from assembly.model.machine import Joint, JointKind, Machine
from assembly.model.mirror import flipped
from assembly.model.parameters import ParameterKind
from assembly.model.perturbed import Perturbations
from assembly.model.positions import Place, Positions
from assembly.model.quantities import Vector

VaryWord = Literal["dimension", "point", "length", "stop", "joint"]
DIGITS = 9
PREFIX = {"stop": "stops.", "joint": "joints."}
"""What tells a stop or a joint from a number of the same name."""


@dataclass(frozen=True, slots=True)
class Variable:
    """One number that variants may change. ``place``: where the file has it; of a joint, ``("joints", NAME)``.

    ``value``: what it is in the file, 0 for the washers at a joint. ``pitch``: mm that a turn makes, of a stop's bolt.
    ``step``: between what can be had, of a stop or a marked dimension; None where that is not said. ``choices``: all
    that the file says it may be, where that is a list of sizes or whole steps.
    """

    name: str
    kind: VaryWord
    place: Place
    value: float
    line: int | None = None
    pitch: float | None = None
    step: float | None = None
    choices: tuple[float, ...] = ()


class Variables:
    """All numbers of one machine that can be varied, by name. Raises InputError for one that no file describes."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        self._numbers = {each.name: each for each in Perturbations(machine).parameters}

    def named(self, name: str) -> Variable:
        """The number of that name; stops and joints by ``stops.NAME`` and ``joints.NAME``, or plainly.

        Raises InputError where there is none, or two.
        """
        found = [one for one in (self._number(name), self._stop(name), self._joint(name)) if one is not None]
        if len(found) > 1:
            kinds = " and ".join(f"a {one.kind}" for one in found)
            hint = " or ".join(f"{PREFIX[one.kind]}{name}" for one in found if one.kind in PREFIX)
            raise InputError(Fault(f"{shown(name)} is {kinds}", hint=f"write {hint} for the other"))
        if not found:
            told = f"there is no dimension, point coordinate, set length, stop or joint {shown(name)}"
            known = [*self._numbers, *self.machine.stops, *self.machine.joints]
            raise InputError(Fault(told, hint=nearest(name, known, "names")))
        return found[0]

    def _number(self, name: str) -> Variable | None:
        number = self._numbers.get(name)
        if number is None:
            return None
        line, marked = self._lines.line(number.place), self.machine.may_change.get(name)
        own = Variable(name, number.kind.value, number.place, number.value, line)
        if marked is None or number.kind is not ParameterKind.DIMENSION:
            return own
        return replace(own, step=marked.step, choices=choices(marked))

    def _stop(self, name: str) -> Variable | None:
        own = name.removeprefix(PREFIX["stop"])
        stop = self.machine.stops.get(own)
        if stop is None:
            return None
        if stop.twin_of:
            raise InputError(Fault(f"stop {shown(own)} is the twin of {shown(stop.twin_of)}", hint=_both(stop.twin_of)))
        if stop.height is None:
            hint = f"`swingroom stop {self.machine.file}` finds one; write it into [stops.{own}]"
            raise InputError(Fault(f"stop {shown(own)} has no height yet", hint=hint))
        place: Place = ("stops", own, "height")
        pitch = getattr(stop.form, "pitch", None)
        return Variable(name, "stop", place, stop.height, self._lines.line(place), pitch, stop.step)

    def _joint(self, name: str) -> Variable | None:
        own = name.removeprefix(PREFIX["joint"])
        if own not in self.machine.joints:
            return None
        twin_of = self.machine.twin_of.get(own)
        if twin_of is not None:
            raise InputError(Fault(f"joint {shown(own)} is the twin of {shown(twin_of)}", hint=_both(twin_of)))
        if _line_of(self.machine.joints[own]) is None:
            hint = "a pin has one, and a ball with its `bolt`"
            raise InputError(Fault(f"joint {shown(own)} has no line along which a washer could sit", hint=hint))
        return Variable(name, "joint", ("joints", own), 0.0, self._lines.line(("joints", own)))

    @cached_property
    def _lines(self) -> Positions:
        return Positions(self.machine.origin.source.text if self.machine.origin else "")


def choices(marked: Allowed) -> tuple[float, ...]:
    """Every size, or every whole step between the limits; nothing where a dimension may be anything between them."""
    if marked.sizes or marked.step is None:
        return marked.sizes
    down, up = steps_between(marked, marked.value)
    return tuple(round(marked.value + number * marked.step, DIGITS) for number in range(down, up + 1))


def _both(name: str) -> str:
    return f"name {shown(name)}: the mirror changes both sides"


def varied_machine(machine: Machine, values: Mapping[Variable, float]) -> Machine:
    """The machine of the same file with these numbers changed.

    mm at a joint move its second part by so much along the joint's line against the first, with all that hangs on it;
    of a joint that is mirrored, on both sides. Raises InputError where the file cannot be read so.
    """
    if machine.reread is None:
        raise InputError(Fault("this machine was not read from a file", hint="load one with assembly.load(FILE)"))
    dimensions = {str(one.place[1]): value for one, value in values.items() if one.kind == "dimension"}
    others = {one.place: value for one, value in values.items() if one.kind not in ("dimension", "joint")}
    made = machine.reread({**machine.changed, **dimensions}, {**machine.moved, **others})
    shifts = {str(one.place[1]): value for one, value in values.items() if one.kind == "joint" and value}
    if not shifts:
        return made
    return replace(made, joints={name: _shifted(made, joint, shifts) for name, joint in made.joints.items()})


def _line_of(joint: Joint) -> Vector | None:
    """The line along which washers sit; None where there is none, or the joint slides along it anyway."""
    if joint.kind is JointKind.PIN:
        return joint.along
    return joint.bolt if joint.kind is JointKind.BALL else None


def _shifted(machine: Machine, joint: Joint, shifts: Mapping[str, float]) -> Joint:
    original = machine.twin_of.get(joint.name, joint.name)
    amount, line = shifts.get(original), _line_of(machine.joints[original])
    if amount is None or line is None:
        return joint
    way = line if original == joint.name else flipped(line)
    x, y, z = (at - amount * share for at, share in zip(joint.at_second, way, strict=True))
    return replace(joint, at_second=(x, y, z))
