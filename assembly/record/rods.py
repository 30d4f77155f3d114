"""The record of rods that are screwed together: their threads, and what turning them does. mm, degrees, turns."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from assembly.record.entries import DriveEntry, MachineEntry, ProgramEntry
from assembly.record.threads import ThreadedRodEntry
from assembly.record.values import Point, Settings, VerdictWord
from assembly.record.varied import VariantEntry

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


SpannerWord = Literal["lock nut", "tube"]


@dataclass(frozen=True, slots=True)
class SpannerEntry:
    """The swing of an open spanner on a lock nut or on the flats of a tube, at the setting ``RodsRecord.at``.

    Of ``tried`` directions round the rod it can be swung by ``swing_deg`` from ``free``; ``handle``: where its handle
    then points in the middle of the swing that has most clearance, ``clearance_mm`` to ``part`` (null where nothing is
    within reach). Where ``free`` is 0, ``part`` is what is most often in the way, even of the smallest swing.
    """

    rod: str
    what: SpannerWord
    joint: str
    across_flats_mm: float
    length_mm: float
    swing_deg: float
    free: int
    tried: int
    handle: Point
    clearance_mm: float | None
    part: str


@dataclass(frozen=True, slots=True)
class RodSweepEntry:
    """The machine swept with the rod of other lengths, which ``number`` of the file takes; the file's own first."""

    rod: str
    number: str
    entries: tuple[VariantEntry, ...]


@dataclass(frozen=True, slots=True)
class RodsRecord:
    """Everything about the rods of a machine, ``rods`` in the order of the file."""

    program: ProgramEntry
    machine: MachineEntry
    drives: Mapping[str, DriveEntry]
    verdict: VerdictWord
    reason: str
    rods: tuple[ThreadedRodEntry, ...]
    turned: tuple[RodTurnEntry, ...] = ()
    ways: tuple[RodWayEntry, ...] = ()
    swept: tuple[RodSweepEntry, ...] = ()
    spanners: tuple[SpannerEntry, ...] = ()
    at: Settings | None = None
    """The setting at which spanners were tried."""
