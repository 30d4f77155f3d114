"""Entries of the record about what turning a rod does: to a part, to measures and to toe. mm, degrees, turns."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from assembly.record.values import Point, VerdictWord

TurnedWord = Literal["tube", "end"]
"""What is turned: the tube, or the end at one joint once that is unbolted."""


@dataclass(frozen=True, slots=True)
class RodStepEntry:
    """``turns`` of the tube, or of an end of the rod, make it ``mm`` longer; its part then stands turned.

    ``longer_deg`` and ``shorter_deg``: by how much at the zero position, about ``RodTurnEntry.about``. Null where the
    machine does not go together so.
    """

    turned: TurnedWord
    joint: str
    turns: float
    mm: float
    longer_deg: float | None
    shorter_deg: float | None


@dataclass(frozen=True, slots=True)
class RodMeasureEntry:
    """What the steps of a rod do to a measure of the file with all drives at 0: by how much it grows for each.

    ``longer`` and ``shorter`` have a figure for each of ``RodTurnEntry.steps``; null where the machine does not go
    together, or where the measure has no value.
    """

    measure: str
    unit: str
    today: float
    longer: tuple[float | None, ...]
    shorter: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class LockEntry:
    """How far the part stands turned from its zero position at one end of a drive: today, and with the rod longer."""

    drive: str
    at: float
    today_deg: float | None
    longer_deg: float | None


@dataclass(frozen=True, slots=True)
class RodTurnEntry:
    """What turning does to the ``part`` that the rod moves most, with all drives at 0, by putting the machine together.

    ``about``: the line about which it is turned, right-handed; all zeros where it is not. ``locks``: how it
    stands with the rod ``locks_mm`` longer: a turn of the tube, or half a turn of an end where its tube does nothing.
    """

    rod: str
    part: str
    about: Point
    steps: tuple[RodStepEntry, ...]
    locks: tuple[LockEntry, ...]
    locks_mm: float
    measures: tuple[RodMeasureEntry, ...] = ()
    """Those of the file that the rod moves."""
    number: str = ""
    """The number of the file that sets the rod's length; empty where none does."""


@dataclass(frozen=True, slots=True)
class RodWayEntry:
    """The way from today's length to ``length_mm``: ``turns`` of the tube, or half turns of an end where it has none.

    ``settable``: whether a whole number of half turns makes it; ``below_mm`` and ``above_mm``: what the nearest ones
    make. ``engaged_mm``: what is in at both ends then. ``verdict``: by the rules; ``why`` says what is against it.
    """

    rod: str
    length_mm: float
    change_mm: float
    turned: TurnedWord
    joint: str
    turns: float
    settable: bool
    below_mm: float
    above_mm: float
    engaged_mm: tuple[float, float]
    verdict: VerdictWord | None
    why: str
    measure: str = ""
    """The measure that was wanted to be ``wanted``, with its ``unit`` and its values at the nearest that can be set."""
    unit: str = ""
    wanted: float | None = None
    below: float | None = None
    above: float | None = None
    where: str = ""
    """The setting at which that is told, in words; empty for all drives at 0."""
    also: tuple[str, ...] = ()
    """Rods that are turned by as much."""
    today: float | None = None
    """What the measure is today."""


@dataclass(frozen=True, slots=True)
class RodsTurnedEntry:
    """What the record of a sweep holds of turning rods: ``turns`` of every rod but of twins that are as long.

    ``ways``: turns of a rod, and of its twin by as much, to the total toe that the file wants, or, where it wants none,
    to ``more_mm`` of toe-in more than today. ``why``: why that is not known.
    """

    turns: tuple[RodTurnEntry, ...]
    ways: tuple[RodWayEntry, ...] = ()
    more_mm: float = 0.0
    why: str = ""
