"""What the builder described, as plain frozen values: millimetres and degrees as in the file, frame at rest.

All lies where it stands with all drives at zero, x forward, y left, z up (ISO 8855). The reader makes these.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from types import MappingProxyType
from typing import Any

from assembly.errors import Fault, InputError
from assembly.geometry.mesh import Mesh, joined
from assembly.model.allowed import Allowed
from assembly.model.cable import CableSystem
from assembly.model.edits import Edit as Edit
from assembly.model.joint_play import JointPlay
from assembly.model.load_case import LoadCase
from assembly.model.measure import Measure
from assembly.model.positions import Place
from assembly.model.quantities import Vector as Vector
from assembly.model.source import Origin
from assembly.model.surfaces import Estimate as Estimate
from assembly.model.surfaces import RoundAbout as RoundAbout
from assembly.model.survey import Survey
from assembly.model.threaded_rod import ThreadedRod
from assembly.model.travel_stop import TravelStop
from assembly.model.weights import Weights
from assembly.model.wheel import NO_WHEELS, Wheels
from assembly.record import DimensionEntry, FindingEntry

Pair = frozenset[str]
DimensionValue = float | str
"""A number, or arithmetic over other dimensions."""
WIDER = 1.5


def _no_entries() -> Mapping[Any, Any]:
    return MappingProxyType({})


class JointKind(StrEnum):
    """What a joint lets free."""

    PIN = "pin"
    """Turning about one line (ISO 3952 revolute pair)."""
    BALL = "ball"
    """Turning every way about one point (spherical pair; a rod end)."""
    SLIDE = "slide"
    """Moving along one line without turning (prismatic pair)."""
    CYLINDRICAL = "cylindrical"
    """Turning about a line and moving along it (cylindrical pair)."""
    UNIVERSAL = "universal"
    """Two crossed lines of turning through one point (Hooke's joint)."""
    WELDED = "welded"
    """Nothing."""
    BOLTED = "bolted"
    """Nothing: checked as a weld is."""

    @property
    def has_freedom(self) -> bool:
        """Whether the two parts may move against each other at all."""
        return self not in (JointKind.WELDED, JointKind.BOLTED)


class RatedForce(StrEnum):
    """Which part of a joint's force a rating is for."""

    WHOLE = "whole"
    RADIAL = "radial"
    """Square to the joint's line."""
    AXIAL = "axial"
    """Along the joint's line."""


@dataclass(frozen=True, slots=True)
class Joint:
    """A tie between two parts.

    ``at_first`` and ``at_second`` are where the joint sits in the first and in the second part, as drawn; they differ
    where one part's length was edited, and the solver then brings them together. ``along`` is the pin's or slide's line
    (unit vector) in both parts. For a universal joint ``along`` is the first part's cross line and ``along_second`` the
    second's. ``bolt`` (ball) is the line of the bolt, fixed in the second part, ``eye`` the line of the eye
    that holds the ball, fixed in the first (None: as the bolt is drawn), and ``misalignment`` in degrees what they may
    lean against each other as mounted. ``seat`` is the radius in mm round the joint inside which the two parts' own
    bearing lies. ``turn_limit`` in degrees (pin, cylindrical) and ``travel_limit`` in mm (slide, cylindrical) are how
    far the second part may go against the first, from rest, lowest first. ``ratings`` in N: the builder's own numbers.
    ``play``: how far it goes by hand beside its own motion, None where the file states none.
    """

    name: str
    kind: JointKind
    first: str
    second: str
    at_first: Vector
    at_second: Vector
    along: Vector | None = None
    along_second: Vector | None = None
    seat: float = 0.0
    bolt: Vector | None = None
    misalignment: float | None = None
    eye: Vector | None = None
    limiter: str = ""
    """What is met at ``misalignment``, where the mounting is what limits it."""
    turn_limit: tuple[float, float] | None = None
    travel_limit: tuple[float, float] | None = None
    ratings: tuple[tuple[RatedForce, float], ...] = ()
    play: JointPlay | None = None

    @property
    def is_loose(self) -> bool:
        """Whether it has play."""
        return self.play is not None and not self.play.is_none


class DriveKind(StrEnum):
    """What a drive moves."""

    TURNS = "turns"
    """Pins (or the turning of cylindricals), in degrees, second part against first, right-handed about ``along``."""
    SLIDES = "slides"
    """Slides (or the sliding of cylindricals), in mm, second part against first, along ``along``."""


@dataclass(frozen=True, slots=True)
class Drive:
    """A motion that the rider or the road sets: each joint named moves by its ratio times the setting."""

    name: str
    kind: DriveKind
    ratios: Mapping[str, float]
    low: float
    high: float
    beyond: tuple[float, float] | None = None
    """How far out to look for what runs out first where limits are sought; None: half as far again both ways."""

    @property
    def widened(self) -> Drive:
        """The same drive with the range that is looked at where limits are sought."""
        low, high = self.beyond or (WIDER * self.low, WIDER * self.high)
        return replace(self, low=low, high=high)

    @property
    def unit(self) -> str:
        """``deg`` for turning drives, ``mm`` for sliding ones."""
        return "deg" if self.kind is DriveKind.TURNS else "mm"


class RollRule(StrEnum):
    """At which rolls a part that can roll about its own line is judged; those only that its ends allow."""

    FREE = "free"
    SOME = "some"
    """It is enough if it holds at one roll, which is looked for; where none is found, as ``FREE``: at every roll."""


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """One named solid of a part, drawn in place. ``seats`` names the joints whose bearing it forms.

    ``round_about``: what the true surface is round about, where that is known. ``estimated``: whose surface error was
    estimated from the facets, because the builder does not state it. ``ball``: the middle, in mm, of the sphere that
    the shape is, or of the bored ball of a rod end; None for any other shape. ``entry``: where the file draws it, or
    draws the shape that it is the mirror of; empty for one that no entry of a part draws.
    """

    name: str
    mesh: Mesh
    seats: tuple[str, ...] = ()
    round_about: RoundAbout | None = None
    estimated: Estimate | None = None
    ball: Vector | None = None
    entry: Place = ()


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """One rigid thing made of shapes, which may run into each other. ``fixed`` parts never move.

    ``roll``: at which rolls about its own line it is judged, or the one in degrees at which it is clamped, right-handed
    from the first of its joints to the last; None where the file does not say, which is as ``RollRule.FREE``.
    """

    name: str
    shapes: tuple[Shape, ...]
    fixed: bool = False
    roll: RollRule | float | None = None

    @property
    def mesh(self) -> Mesh:
        """All triangles of all shapes, in the order of the shapes."""
        return joined(shape.mesh for shape in self.shapes)


@dataclass(frozen=True, slots=True)
class ClearanceRules:
    """How near two parts may come, in mm: a pair's own rule before the larger of the two parts' before the default."""

    required: float = 0.0
    parts: Mapping[str, float] = field(default_factory=_no_entries)
    pairs: Mapping[Pair, float] = field(default_factory=_no_entries)
    ignored: Mapping[Pair, str] = field(default_factory=_no_entries)
    """Pairs that are not checked, each with the builder's reason."""

    def for_pair(self, first: str, second: str) -> float:
        """The clearance in mm that this pair must keep."""
        own = self.pairs.get(frozenset((first, second)))
        if own is not None:
            return own
        named = [self.parts[name] for name in (first, second) if name in self.parts]
        return max(named, default=self.required)


class FindingKind(StrEnum):
    """How much a finding about the input matters."""

    NOTE = "note"
    """Said, nothing was changed."""
    REPAIRED = "repaired"
    """The program changed what it was given so that it can be trusted, and says what."""
    ONE_SIDE = "one side"
    """The two sides of a mirrored machine are not alike, because the file says so."""
    FLOATING = "floating shape"
    """A shape touches nothing of its part."""
    BARE_JOINT = "bare joint"
    """Nothing of a part is drawn where one of its joints sits."""
    WRONG_SIDE = "wrong side"
    """A name says a side that its entry is not on, or that nothing mirrors."""


def shape_place(part: str, shape: str) -> str:
    """How the place of a shape is written in findings, and under which its line is kept."""
    return f"parts.{part} ({shape})"


@dataclass(frozen=True, slots=True, eq=False)
class Machine:
    """One machine: parts, the joints that tie them, the drives that move it and the clearances it must keep."""

    name: str
    parts: Mapping[str, Part]
    joints: Mapping[str, Joint]
    drives: Mapping[str, Drive] = field(default_factory=_no_entries)
    clearance: ClearanceRules = field(default_factory=ClearanceRules)
    stops: Mapping[str, TravelStop] = field(default_factory=_no_entries)
    """Those whose height is known stand in the machine as parts of the same name."""
    points: Mapping[str, Vector] = field(default_factory=_no_entries)
    dimensions: Mapping[str, DimensionEntry] = field(default_factory=_no_entries)
    loads: Mapping[str, LoadCase] = field(default_factory=_no_entries)
    measures: Mapping[str, Measure] = field(default_factory=_no_entries)
    rods: Mapping[str, ThreadedRod] = field(default_factory=_no_entries)
    cables: CableSystem = field(default_factory=CableSystem)
    survey: Survey = field(default_factory=Survey)
    weights: Weights | None = None
    running: Wheels = NO_WHEELS
    findings: tuple[FindingEntry, ...] = ()
    edits: tuple[Edit, ...] = ()
    """Every part's own copies of points, in the order in which they were worked out."""
    lines: Mapping[str, int] = field(default_factory=_no_entries)
    """The line of the file of each part, joint and drive, by its place such as ``parts.frame``, and of each shape."""
    twin_of: Mapping[str, str] = field(default_factory=_no_entries)
    """For parts and joints that the mirror makes: the name of the original."""
    written: Mapping[str, tuple[int, str]] = field(default_factory=_no_entries)
    """Number and text of lines where stops begin, ranges of drives and values of dimensions stand, by place."""
    file: str = ""
    digests: Mapping[str, str] = field(default_factory=_no_entries)
    """SHA-256 of the mechanism file and of every mesh file, by the name used in the file."""
    may_change: Mapping[str, Allowed] = field(default_factory=_no_entries)
    """The dimensions that the builder is willing to change, in the order of the file."""
    changed: Mapping[str, DimensionValue] = field(default_factory=_no_entries)
    moved: Mapping[Place, float] = field(default_factory=_no_entries)
    """Dimensions, and other numbers by their place in the file, that were given another value than it has."""
    origin: Origin | None = None
    """The file that describes it, if any."""
    reread: Callable[[Mapping[str, DimensionValue], Mapping[Place, float]], Machine] | None = None
    """Makes the machine of the same file with these dimensions and numbers changed; None where ``origin`` is."""

    def with_dimensions(self, **values: DimensionValue) -> Machine:
        """The machine of the same file with other values of some dimensions, and of all that is worked out from them.

        A value is a number or arithmetic over other dimensions, as in the file. Mesh files are read again.

        Raises
        ------
        InputError
            For a name that is no dimension of the file, a value that makes a shape impossible, or without a file.

        """
        if self.reread is None:
            raise InputError(Fault("this machine was not read from a file", hint="load one with assembly.load(FILE)"))
        return self.reread({**self.changed, **values}, self.moved)

    @property
    def widened(self) -> Machine:
        """The same machine with every drive's range widened to where limits are sought."""
        return replace(self, drives={name: drive.widened for name, drive in self.drives.items()})
