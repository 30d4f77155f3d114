"""The record of rods that are screwed together: their threads, and what turning them does. mm, degrees, turns."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from assembly.record.entries import DriveEntry, MachineEntry, ProgramEntry
from assembly.record.rod_turn_entries import RodTurnEntry, RodWayEntry
from assembly.record.threads import ThreadedRodEntry
from assembly.record.values import Point, Settings, VerdictWord
from assembly.record.varied import VariantEntry

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
