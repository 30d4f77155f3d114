"""The tables of load cases in a mechanism file, as written."""

from __future__ import annotations

from typing import Any, ClassVar

from assembly.model.quantities import GRAVITY
from assembly.model.schema import DirectionValue, Name, Number, PointValue, StrictTable, ThreeNumbers, empty_list


class ForceTable(StrictTable):
    """A force on a part."""

    called: ClassVar[str] = "a force"
    on: Name
    at: PointValue
    newtons: ThreeNumbers


class MomentTable(StrictTable):
    """A moment on a part."""

    called: ClassVar[str] = "a moment"
    on: Name
    newton_metres: ThreeNumbers


class WeightTable(StrictTable):
    """A mass that a part carries."""

    called: ClassVar[str] = "a weight"
    on: Name
    at: PointValue
    kilograms: Number


class PushedStopTable(StrictTable):
    """A solid stop that holds a drive."""

    called: ClassVar[str] = "a stop"
    on: Name
    against: Name
    at: PointValue
    push: DirectionValue
    holds: Name


class LoadCaseTable(StrictTable):
    """All that pushes at one time."""

    called: ClassVar[str] = "a load case"
    forces: list[ForceTable] = empty_list()
    moments: list[MomentTable] = empty_list()
    weights: list[WeightTable] = empty_list()
    down: DirectionValue | None = None
    gravity: Number = GRAVITY
    stop: Any = None
