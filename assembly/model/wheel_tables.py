"""The tables of ``[wheels]`` and ``[road]`` as written."""

from __future__ import annotations

from typing import Any, ClassVar

from assembly.model.schema import DirectionValue, Name, Number, PointValue, StrictTable, TwoTables, empty_table


class WheelTable(StrictTable):
    """One wheel."""

    called: ClassVar[str] = "a wheel"
    part: Name
    centre: PointValue
    spin: DirectionValue
    tyre_diameter: Number
    section: Number
    rim_diameter: Number | None = None
    kingpin: TwoTables | None = None
    limits: dict[str, Any] = empty_table()


class RoadTable(StrictTable):
    """What the machine stands on."""

    called: ClassVar[str] = "the road"
    contact: Any = None
    plane: Any = None
    rests_on: list[Name] | None = None
    frame: Name | None = None
    toe_set_at: dict[str, Number] = empty_table()
    toe_wanted: Number | None = None
    limits: dict[str, Any] = empty_table()


class LimitAtTable(StrictTable):
    """Limits of a figure at one setting."""

    called: ClassVar[str] = "limits at a setting"
    least: Number | None = None
    most: Number | None = None
    at: dict[str, Number] = empty_table()
