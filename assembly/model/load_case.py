"""What pushes on a standing machine: forces, moments and weights on named parts; plain values that check themselves."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import hypot, isfinite

from assembly.errors import Fault, InputError
from assembly.model.faults import nearest, shown
from assembly.model.machine import Machine, Vector
from assembly.model.quantities import GRAVITY, require_positive


@dataclass(frozen=True, slots=True)
class Force:
    """A force on ``part``: ``newtons`` in the ground's frame; its point, drawn ``at`` (mm, rest), moves along."""

    part: str
    at: Vector
    newtons: Vector

    def __post_init__(self) -> None:
        _require_numbers(f"the force on {shown(self.part)}", *self.at, *self.newtons)


@dataclass(frozen=True, slots=True)
class Moment:
    """A moment on ``part``: ``newton_metres`` about the axes of the ground's frame, right-handed."""

    part: str
    newton_metres: Vector

    def __post_init__(self) -> None:
        _require_numbers(f"the moment on {shown(self.part)}", *self.newton_metres)


@dataclass(frozen=True, slots=True)
class Weight:
    """A mass in kg that ``part`` carries at the point drawn ``at`` (mm, rest), which moves along."""

    part: str
    at: Vector
    kilograms: float

    def __post_init__(self) -> None:
        _require_numbers(f"the weight on {shown(self.part)}", *self.at)
        require_positive((f"the weight on {shown(self.part)}", self.kilograms, "kg"))


@dataclass(frozen=True, slots=True)
class LoadCase:
    """All that pushes at one time. ``down`` is where weights pull in the ground's frame; its length does not matter."""

    forces: tuple[Force, ...] = ()
    moments: tuple[Moment, ...] = ()
    weights: tuple[Weight, ...] = ()
    gravity: float = GRAVITY
    """m/s²."""
    down: Vector = (0.0, 0.0, -1.0)

    def __post_init__(self) -> None:
        require_positive(("gravity", self.gravity, "m/s²"))
        _require_numbers("the direction `down`", *self.down)
        require_positive(("the length of the direction `down`", hypot(*self.down), ""))
        if not (self.forces or self.moments or self.weights):
            raise InputError(Fault("the load case is empty", hint="give at least one force, moment or weight"))

    @property
    def parts(self) -> tuple[str, ...]:
        """Every part that something pushes on, once each."""
        loads: tuple[Force | Moment | Weight, ...] = (*self.forces, *self.moments, *self.weights)
        return tuple(dict.fromkeys(load.part for load in loads))

    def pull(self, weight: Weight) -> Vector:
        """The force in N of ``weight`` in the ground's frame."""
        size = weight.kilograms * self.gravity / hypot(*self.down)
        x, y, z = (size * value for value in self.down)
        return x, y, z


def check_parts(machine: Machine, parts: Iterable[str], what: str) -> None:
    """Raise InputError with one fault for each of ``parts`` that ``machine`` has not; ``what`` says what names them."""
    faults = [
        Fault(f"{what} {shown(part)}, and there is no such part", hint=nearest(part, machine.parts, "parts"))
        for part in parts
        if part not in machine.parts
    ]
    if faults:
        raise InputError(*faults)


def _require_numbers(what: str, *values: float) -> None:
    if not all(isfinite(value) for value in values):
        raise InputError(Fault(f"{what} holds a value that is no number", hint="give finite numbers"))
