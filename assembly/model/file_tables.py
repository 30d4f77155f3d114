"""The tables of a mechanism file (format 1), as written: what keys each has and what kind of value each key takes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, ClassVar

from assembly.model.fault_list import listed
from assembly.model.machine import RollRule
from assembly.model.plain_values import number_or
from assembly.model.schema import (
    DirectionValue,
    JointNames,
    Name,
    NamePair,
    Number,
    NumberList,
    PointValue,
    StrictTable,
    ThreeNumbers,
    TwoDirections,
    TwoNumbers,
    Unit,
    by_kind,
    empty_list,
    empty_table,
    keyed,
    zeros,
)
from assembly.model.tolerance_value import Tolerance

DEFAULT_FACET_ERROR = 0.02
"""mm"""
ROLL_HINT = f"write {listed(rule.value for rule in RollRule)}, or the angle in degrees at which it is clamped"
Roll = Annotated[float | str, number_or("a roll", ROLL_HINT)]
"""The angle in degrees at which a part is clamped, or the name of a rule."""


BEARING = "bearing"
SEAT_HINT = (
    "write the radius in mm; or `bearing` where a rod_end or a sphere has its middle at the joint; or name the joint "
    "as `bearing_of` in the shapes that bear it"
)
Seat = Annotated[float | str, number_or("a seat", SEAT_HINT)]
"""A radius in mm, or ``BEARING``."""


class FileTable(StrictTable):
    """The whole file; the entries of its sections are checked one by one."""

    called: ClassVar[str] = "a mechanism file"
    format: int = 1
    name: Name | None = None
    notes: str = ""
    facet_error: Number = DEFAULT_FACET_ERROR
    dimensions: dict[str, Any] = empty_table()
    points: dict[str, Any] = empty_table()
    parts: dict[str, Any] = empty_table()
    joints: dict[str, Any] = empty_table()
    mirror: dict[str, Name] = empty_table()
    drives: dict[str, Any] = empty_table()
    stops: dict[str, Any] = empty_table()
    loads: dict[str, Any] = empty_table()
    measures: dict[str, Any] = empty_table()
    measured: dict[str, Any] = empty_table()
    rods: dict[str, Any] = empty_table()
    cables: dict[str, Any] = empty_table()
    splitters: dict[str, Any] = empty_table()
    weights: dict[str, Any] = empty_table()
    wheels: dict[str, Any] = empty_table()
    road: dict[str, Any] = empty_table()
    clearance: dict[str, Any] = empty_table()
    tolerances: dict[str, Any] = empty_table()


class TolerancesTable(StrictTable):
    """What the dimensions without a tolerance of their own have."""

    called: ClassVar[str] = "`tolerances`"
    general: str


class DimensionTable(StrictTable):
    """A dimension with a tolerance, and with what it may be changed to: between two limits, in steps, or to sizes."""

    called: ClassVar[str] = "a dimension"
    value: Number
    plus_minus: Tolerance | None = None
    may_be: TwoNumbers | None = None
    step: Number | None = None
    sizes: NumberList | None = None
    weight: Number | None = None
    may_differ: Number | None = None


class PointTable(StrictTable):
    """A point of which the machine may differ from the drawing: by so much along each axis, or along all three."""

    called: ClassVar[str] = "a point"
    at: ThreeNumbers
    may_differ: Any = None


class LengthTable(StrictTable):
    """``set_length``: one length of a part, edited."""

    called: ClassVar[str] = "set_length"
    start: Name = keyed("from")
    end: Name = keyed("to")
    length: Number = keyed("is")
    plus_minus: Number | None = None
    may_differ: Number | None = None


class PartTable(StrictTable):
    """One part; its shapes and meshes are checked one by one."""

    called: ClassVar[str] = "a part"
    fixed: bool = False
    points: dict[str, Any] = empty_table()
    set_length: Any = None
    plus_minus: Number | None = None
    roll: Roll | None = None
    shapes: list[Any] = empty_list()
    meshes: list[Any] = empty_list()


class MeshTable(StrictTable):
    """One mesh file of a part, and how it is placed."""

    called: ClassVar[str] = "a mesh"
    renamed: ClassVar[Mapping[str, str]] = {"seat": "bearing_of"}
    file: Name
    name: Name | None = None
    unit: Unit = "mm"
    scale: Number = 1.0
    at: PointValue = zeros()
    rotated: ThreeNumbers = zeros()
    surface_error: Number | None = None
    bearing_of: JointNames = empty_list()


class PlayTable(StrictTable):
    """How far the parts of a joint go against each other by hand, from end to end."""

    called: ClassVar[str] = "play"
    radial: Number | None = None
    axial: Tolerance | None = None
    angle: Number | None = None
    fit: Name | None = None
    diameter: Number | None = None
    width: Number | None = None


class JointTable(StrictTable):
    """What every joint may have."""

    renamed: ClassVar[Mapping[str, str]] = {"seat": "seat_radius"}
    seat_radius: Seat = 0.0
    rating: Number | None = None
    radial_rating: Number | None = None
    axial_rating: Number | None = None
    play: PlayTable | None = None


class PinTable(JointTable):
    """A pin."""

    called: ClassVar[str] = "a pin"
    pin: NamePair
    at: PointValue
    along: DirectionValue
    limit: TwoNumbers | None = None


class MountingTable(StrictTable):
    """A rod end between what stands beside its ball: what its misalignment is worked out from."""

    called: ClassVar[str] = "a mounting"
    size: Name | None = None
    ball_width: Number | None = None
    housing_width: Number | None = None
    eye_diameter: Number | None = None
    shoulder: Number | None = None
    bore: Number | None = None
    beside: Number | None = None
    spacer: Number = 0.0
    fork: bool = True
    bolt_head: Number | None = None


class BallTable(JointTable):
    """A ball joint or rod end."""

    called: ClassVar[str] = "a ball joint"
    ball: NamePair
    at: PointValue
    bolt: DirectionValue | None = None
    eye: DirectionValue | None = None
    misalignment: Number | None = None
    mounting: MountingTable | None = None


class SlideTable(JointTable):
    """A slide."""

    called: ClassVar[str] = "a slide"
    slide: NamePair
    at: PointValue
    along: DirectionValue
    limit: TwoNumbers | None = None


class CylindricalTable(JointTable):
    """A pin that also slides."""

    called: ClassVar[str] = "a cylindrical joint"
    cylindrical: NamePair
    at: PointValue
    along: DirectionValue
    turn_limit: TwoNumbers | None = None
    travel_limit: TwoNumbers | None = None


class UniversalTable(JointTable):
    """A universal joint."""

    called: ClassVar[str] = "a universal joint"
    universal: NamePair
    at: PointValue
    axes: TwoDirections


class FixedJointTable(JointTable):
    """Two parts that do not move against each other; ``at`` is needed only where a seat is stated."""

    at: PointValue | None = None


class WeldedTable(FixedJointTable):
    """A weld."""

    called: ClassVar[str] = "a welded joint"
    welded: NamePair


class BoltedTable(FixedJointTable):
    """A bolted face."""

    called: ClassVar[str] = "a bolted joint"
    bolted: NamePair


JOINT_KINDS: dict[str, type[StrictTable]] = {
    "pin": PinTable,
    "ball": BallTable,
    "slide": SlideTable,
    "cylindrical": CylindricalTable,
    "universal": UniversalTable,
    "welded": WeldedTable,
    "bolted": BoltedTable,
}
_OLD_JOINTS = {"pin_slide": ("cylindrical",), "rigid": ("welded", "bolted")}
"""Kinds of joint that had another name in earlier versions."""
AnyJoint = Annotated[JointTable, by_kind(JOINT_KINDS, "joint", _OLD_JOINTS)]


class DriveTable(StrictTable):
    """A drive."""

    called: ClassVar[str] = "a drive"
    turns: dict[str, Number] | None = None
    slides: dict[str, Number] | None = None
    range: TwoNumbers
    beyond: TwoNumbers | None = None


class ClearanceTable(StrictTable):
    """The rules of clearance; pairs are checked one by one."""

    called: ClassVar[str] = "clearance"
    required: Number = 0.0
    parts: dict[str, Number] = empty_table()
    pairs: list[Any] = empty_list()


class PairRuleTable(StrictTable):
    """A rule for one pair of parts."""

    called: ClassVar[str] = "a pair"
    between: NamePair
    required: Number | None = None
    ignore: str | None = None
