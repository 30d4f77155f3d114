"""What the builder says of masses: of parts, of what they carry, and of how the machine leans; plain values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from assembly.model.quantities import Vector


@dataclass(frozen=True, slots=True)
class PartWeight:
    """Of one part: a ``mass`` in kg, or a ``density`` in kg/dm³ with what it is called and where it is from.

    ``at``: where its centre is drawn, mm; None: that of its solid.
    """

    mass: float | None = None
    density: float | None = None
    material: str = ""
    source: str = ""
    at: Vector | None = None


@dataclass(frozen=True, slots=True)
class CarriedMass:
    """A ``mass`` in kg that ``part`` carries at the point drawn ``at`` (mm): a rider, a load."""

    name: str
    part: str
    mass: float
    at: Vector


@dataclass(frozen=True, slots=True)
class OnPart:
    """A point drawn ``at`` (mm) that moves with ``part``; with none it stands still."""

    part: str
    at: Vector


@dataclass(frozen=True, slots=True)
class ContactLine:
    """A line on the ground, through two points, about which the machine would turn over."""

    name: str
    points: tuple[OnPart, OnPart]


@dataclass(frozen=True, slots=True)
class MachineLean:
    """How the machine leans: by ``drive``, about the line through ``at`` mm along the unit ``along``.

    ``frame``: the fixed parts lean, against the drive's sense, while the ground stays; else only what the drive moves.
    ``corners``: (speed in m/s, radius in m) of bends.
    """

    drive: str
    at: Vector
    along: Vector
    frame: bool
    corners: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Weights:
    """Everything about masses; parts that ``parts`` does not name, and ``others`` says nothing of, have none."""

    parts: Mapping[str, PartWeight] = field(default_factory=lambda: MappingProxyType({}))
    others: PartWeight | None = None
    carried: tuple[CarriedMass, ...] = ()
    lean: MachineLean | None = None
    contacts: tuple[ContactLine, ...] = ()

    def of(self, part: str) -> PartWeight | None:
        """What is said of a part."""
        return self.parts.get(part, self.others)
