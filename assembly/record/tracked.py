"""What a film or a moving model shows of the range, and what it leaves out, as plain values."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

from assembly.record.common import drive_entries, settings_of, unrolled_parts
from assembly.record.entries import DriveEntry
from assembly.record.mapped import LostEntry
from assembly.record.values import From, Settings

if TYPE_CHECKING:
    from assembly.model.machine import Machine
    from assembly.motion.way import LeftOut
    from assembly.studies.filming import Filmed
    from assembly.studies.motion_tracks import Tracked


@dataclass(frozen=True, slots=True)
class LeftOutEntry:
    """A stretch from one setting to another on which the machine cannot be put together; ``lost`` is on it."""

    first: Settings
    last: Settings
    lost: LostEntry


@dataclass(frozen=True, slots=True)
class TrackEntry:
    """The motion of a drive: its ends, how many keys it has on the way between them, and the largest error seen."""

    drive: str
    from_: Annotated[float, From]
    to: float
    keys: int
    error_mm: float


@dataclass(frozen=True, slots=True)
class ModelRecord:
    """A model of a machine at a setting, with the motions of its drives from there.

    ``unrolled``: parts that can roll about their own lines, and stand at the shortest turn from rest.
    """

    name: str
    drives: dict[str, DriveEntry]
    at: Settings
    parts: int
    tracks: tuple[TrackEntry, ...]
    left_out: tuple[LeftOutEntry, ...]
    unrolled: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FilmRecord:
    """The settings that a picture (one) or a film (many) shows; ``unrolled`` as of a model."""

    name: str
    drives: dict[str, DriveEntry]
    settings: tuple[Settings, ...]
    left_out: tuple[LeftOutEntry, ...]
    unrolled: tuple[str, ...] = ()


def model_record(tracked: Tracked) -> ModelRecord:
    """What ``tracked`` holds."""
    machine = tracked.mechanism.machine
    return ModelRecord(
        name=machine.name,
        drives=drive_entries(machine),
        at=settings_of(machine, tracked.at),
        parts=len(tracked.model.figures),
        tracks=tuple(TrackEntry(one.drive, one.low, one.high, one.keys, one.error_mm) for one in tracked.made),
        left_out=_entries(machine, tracked.left_out),
        unrolled=unrolled_parts(tracked.mechanism),
    )


def film_record(filmed: Filmed) -> FilmRecord:
    """What ``filmed`` holds."""
    machine = filmed.mechanism.machine
    settings = tuple(settings_of(machine, tuple(at)) for at in filmed.settings.tolist())
    unrolled = unrolled_parts(filmed.mechanism)
    return FilmRecord(machine.name, drive_entries(machine), settings, _entries(machine, filmed.left_out), unrolled)


def _entries(machine: Machine, left_out: Iterable[LeftOut]) -> tuple[LeftOutEntry, ...]:
    return tuple(
        LeftOutEntry(
            settings_of(machine, one.first),
            settings_of(machine, one.last),
            LostEntry(settings_of(machine, one.lost.settings), one.lost.loop, one.lost.miss_mm),
        )
        for one in left_out
    )
