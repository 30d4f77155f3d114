"""What a film or a moving model shows of the range, and what it leaves out, as plain values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from assembly.record.entries import DriveEntry
from assembly.record.mapped import LostEntry
from assembly.record.values import From, Settings


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
