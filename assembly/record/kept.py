"""What a history says of the runs it keeps, as plain values."""

from __future__ import annotations

from dataclasses import dataclass

from assembly.record.values import Settings, VerdictWord


@dataclass(frozen=True, slots=True)
class RunEntry:
    """One run in the list. ``least_room`` in mm: the smallest of all pairs beyond what each must keep."""

    number: int
    made: str
    key: str
    file: str
    name: str
    verdict: VerdictWord
    digest: str
    version: str
    commit: str | None
    seconds: float
    least_room: float | None


@dataclass(frozen=True, slots=True)
class PairPoint:
    """One pair in one run; ``depth_mm`` where it overlapped, ``depth_at_most_mm`` where none is proven deeper.

    Where it was not ``closed_in`` on, ``least_mm`` is only a distance that a setting shows.
    """

    number: int
    made: str
    commit: str | None
    verdict: VerdictWord
    least_mm: float | None
    depth_mm: float | None
    proven_mm: float | None
    required_mm: float
    at: Settings
    closed_in: bool = False
    depth_at_most_mm: float | None = None
