"""The tables of ``[stops]`` as written."""

from __future__ import annotations

from typing import ClassVar, Literal

from assembly.model.schema import DirectionValue, Name, NamePair, Number, PointValue, StrictTable, TwoNumbers


class PadTable(StrictTable):
    """A pad."""

    called: ClassVar[str] = "a pad"
    diameter: Number | None = None
    square: Number | None = None
    modulus: Number | None = None
    bulk: Number | None = None
    thickness: Number | None = None


class StopBoltTable(StrictTable):
    """A bolt that is struck on its end."""

    called: ClassVar[str] = "a stop's bolt"
    diameter: Number
    pitch: Number


class MarginTable(StrictTable):
    """The room that a stop must leave."""

    called: ClassVar[str] = "a stop's margin"
    joints: Number = 2.0
    clearance: Number = 0.0
    play: Number = 0.0


class AheadOfTable(StrictTable):
    """Which stop a soft one comes before."""

    called: ClassVar[str] = "ahead_of"
    stop: Name
    by: Number


class StopLoadTable(StrictTable):
    """What presses on a stop."""

    called: ClassVar[str] = "a stop's load"
    moment: Number | None = None
    force: Number | None = None
    mass: Number | None = None
    height: Number | None = None
    factor: Number = 1.0
    fall_from: Number | None = None


class TabTable(StrictTable):
    """The plate that a fastener bears in."""

    called: ClassVar[str] = "a tab"
    thickness: Number
    tensile: Number
    hole: Number
    end: Number
    edge: Number


class FastenersTable(StrictTable):
    """The bolts that hold a stop."""

    called: ClassVar[str] = "a stop's fasteners"
    size: Name
    grade: Name
    bolts: int = 1
    planes: Literal[1, 2] = 1
    tab: TabTable | None = None


class TouchTable(StrictTable):
    """The faces that meet."""

    called: ClassVar[str] = "a stop's touch"
    radius: Number
    length: Number | None = None
    moduli: TwoNumbers
    poissons: TwoNumbers


class StopTable(StrictTable):
    """One stop."""

    called: ClassVar[str] = "a stop"
    drive: Name
    side: Literal["low", "high"]
    parts: NamePair
    carrier: Name | None = None
    at: PointValue
    along: DirectionValue
    pad: PadTable | None = None
    bolt: StopBoltTable | None = None
    height: Number | None = None
    step: Number | None = None
    margin: MarginTable = MarginTable()
    ahead_of: AheadOfTable | None = None
    load: StopLoadTable | None = None
    fasteners: FastenersTable | None = None
    touch: TouchTable | None = None
