"""What pushes on a standing machine: forces, moments and weights on named parts; plain values that check themselves."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from math import hypot, isfinite

from assembly.errors import Fault, InputError
from assembly.model.fault_list import nearest, shown
from assembly.model.quantities import GRAVITY, Vector, require_positive


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
class Stop:
    """A solid stop that holds a drive: it pushes ``striker`` at the point drawn ``at`` (mm, rest), and ``struck`` back.

    ``push`` is the direction of the force on the striker as drawn at rest; it turns with ``face``, the part that has
    the pad's face.
    """

    striker: str
    struck: str
    at: Vector
    push: Vector
    drive: str
    face: str = ""
    """The struck part where it is empty."""


@dataclass(frozen=True, slots=True)
class LoadCase:
    """All that pushes at one time. ``down`` is where weights pull in the ground's frame; its length does not matter."""

    forces: tuple[Force, ...] = ()
    moments: tuple[Moment, ...] = ()
    weights: tuple[Weight, ...] = ()
    gravity: float = GRAVITY
    """m/s²."""
    down: Vector = (0.0, 0.0, -1.0)
    stop: Stop | None = None
    """Looked at as well in place of its drive's effort."""

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


def chosen_cases(loads: Mapping[str, LoadCase], names: Iterable[str]) -> dict[str, LoadCase]:
    """The load cases of ``names``, or all where none is named. InputError where there is no such one, or none."""
    if not loads:
        hint = "write [loads.NAME] with `forces`, `moments` or `weights` into it; no load is assumed"
        raise InputError(Fault("the file has no load case", hint=hint))
    wanted = list(dict.fromkeys(names)) or list(loads)
    faults = [
        Fault(f"there is no load case {shown(name)}", hint=nearest(name, loads, "load cases"))
        for name in wanted
        if name not in loads
    ]
    if faults:
        raise InputError(*faults)
    return {name: loads[name] for name in wanted}


def check_parts(known: Collection[str], parts: Iterable[str], what: str) -> None:
    """Raise InputError with one fault for each of ``parts`` that is not ``known``; ``what`` says what names them."""
    faults = [
        Fault(f"{what} {shown(part)}, and there is no such part", hint=nearest(part, known, "parts"))
        for part in parts
        if part not in known
    ]
    if faults:
        raise InputError(*faults)


def _require_numbers(what: str, *values: float) -> None:
    if not all(isfinite(value) for value in values):
        raise InputError(Fault(f"{what} holds a value that is no number", hint="give finite numbers"))
