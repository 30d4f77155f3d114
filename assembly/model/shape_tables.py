"""The tables of the shapes, as written in a mechanism file: one kind key each, and the measures that go with it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, ClassVar, Literal

from assembly.model.schema import (
    BendRadii,
    Corner,
    Corners,
    DirectionValue,
    JointNames,
    Name,
    Number,
    Outline,
    PointValue,
    PointValues,
    StrictTable,
    ThreeNumbers,
    TwoNumbers,
    TwoPoints,
    by_kind,
    empty_list,
    keyed,
    zeros,
)

SHAPE_KINDS: dict[str, type[ShapeTable]] = {}


class ShapeTable(StrictTable):
    """What every shape may have besides its own measures."""

    name: Name | None = None
    renamed: ClassVar[Mapping[str, str]] = {"seat": "bearing_of"}
    bearing_of: JointNames = empty_list()
    cut: list[AnyShape] = empty_list()
    joined: list[AnyShape] = empty_list()
    free_turn: bool = False
    free_turn_about: TwoPoints | None = None


AnyShape = Annotated[ShapeTable, by_kind(SHAPE_KINDS, "shape")]


class BoxTable(ShapeTable):
    """A box by its centre."""

    called: ClassVar[str] = "a box"
    box: PointValue
    size: ThreeNumbers
    rotated: ThreeNumbers = zeros()


class SectionTable(ShapeTable):
    """What a rod and a tube share: one section along a line of points."""

    diameter: Number | None = None
    square: Number | None = None
    rectangle: TwoNumbers | None = None
    up: DirectionValue | None = None
    bend: BendRadii | None = None


class RodTable(SectionTable):
    """A solid section along a line."""

    called: ClassVar[str] = "a rod"
    rod: PointValues


class TubeTable(SectionTable):
    """A hollow section along a line."""

    called: ClassVar[str] = "a tube"
    tube: PointValues
    wall: Number


class HoleTable(StrictTable):
    """A round hole in a plate."""

    called: ClassVar[str] = "a hole"
    at: Corner
    diameter: Number


class SlotTable(StrictTable):
    """A slot with round ends in a plate, by the centres of its ends."""

    called: ClassVar[str] = "a slot"
    start: Corner = keyed("from")
    end: Corner = keyed("to")
    width: Number


class PlateTable(ShapeTable):
    """A flat plate by its outline."""

    called: ClassVar[str] = "a plate"
    plate: Corners
    thickness: Number
    at: PointValue | None = None
    normal: DirectionValue | None = None
    along: DirectionValue | None = None
    side: Literal["middle", "plus", "minus"] = "middle"
    holes: list[HoleTable] = empty_list()
    slots: list[SlotTable] = empty_list()


class SphereTable(ShapeTable):
    """A ball by its centre."""

    called: ClassVar[str] = "a sphere"
    sphere: PointValue
    diameter: Number


class ConeTable(ShapeTable):
    """A cone or a frustum by its two end centres."""

    called: ClassVar[str] = "a cone"
    cone: TwoPoints
    diameters: TwoNumbers


class RingTable(ShapeTable):
    """A ring of round section, such as a tyre."""

    called: ClassVar[str] = "a ring"
    ring: PointValue
    axis: DirectionValue
    diameter: Number
    thickness: Number


class TurnedTable(ShapeTable):
    """A closed outline of [along, radius] turned about an axis."""

    called: ClassVar[str] = "a turned shape"
    turned: Outline
    at: PointValue
    axis: DirectionValue


class HexagonTable(ShapeTable):
    """A nut or a hexagon bar by its two end centres."""

    called: ClassVar[str] = "a hexagon"
    hexagon: TwoPoints
    across_flats: Number
    bore: Number | None = None


class RodEndTable(ShapeTable):
    """A rod end by the centre of its ball; sizes by the thread, each one open to a value of one's own."""

    called: ClassVar[str] = "a rod end"
    rod_end: PointValue
    shank: DirectionValue
    bolt: DirectionValue
    size: Name | None = None
    eye_diameter: Number | None = None
    housing_width: Number | None = None
    ball_width: Number | None = None
    ball_face: Number | None = None
    bore: Number | None = None
    length: Number | None = None
    shank_diameter: Number | None = None


SHAPE_KINDS.update(
    box=BoxTable,
    rod=RodTable,
    tube=TubeTable,
    plate=PlateTable,
    sphere=SphereTable,
    cone=ConeTable,
    ring=RingTable,
    turned=TurnedTable,
    hexagon=HexagonTable,
    rod_end=RodEndTable,
)


def kind_of(table: ShapeTable) -> str:
    """The kind key of a shape."""
    return next(kind for kind, table_type in SHAPE_KINDS.items() if isinstance(table, table_type))
