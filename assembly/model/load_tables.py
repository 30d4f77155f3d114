"""The tables of load cases in a mechanism file, as written."""

from __future__ import annotations

from typing import Any, ClassVar

from assembly.model.quantities import GRAVITY
from assembly.model.schema import Direction, Name, Number, Point, Table, ThreeNumbers, empty_list


class ForceTable(Table):
    """A force on a part."""

    called: ClassVar[str] = "a force"
    on: Name
    at: Point
    newtons: ThreeNumbers


class MomentTable(Table):
    """A moment on a part."""

    called: ClassVar[str] = "a moment"
    on: Name
    newton_metres: ThreeNumbers


class WeightTable(Table):
    """A mass that a part carries."""

    called: ClassVar[str] = "a weight"
    on: Name
    at: Point
    kilograms: Number


class PushedStopTable(Table):
    """A solid stop that holds a drive."""

    called: ClassVar[str] = "a stop"
    on: Name
    against: Name
    at: Point
    push: Direction
    holds: Name


class LoadCaseTable(Table):
    """All that pushes at one time."""

    called: ClassVar[str] = "a load case"
    forces: list[ForceTable] = empty_list()
    moments: list[MomentTable] = empty_list()
    weights: list[WeightTable] = empty_list()
    down: Direction | None = None
    gravity: Number = GRAVITY
    stop: Any = None
