"""The record of ``swingroom checks``: what to measure to see soonest whether the machine is as drawn.

mm and degrees.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from assembly.record.entries import DriveEntry, MachineEntry, ProgramEntry
from assembly.record.values import Settings, VerdictWord

CheckWord = Literal["clearance", "distance", "measure"]
AgreesWord = Literal["agrees", "look again"]


@dataclass(frozen=True, slots=True)
class PrototypeCheckEntry:
    """One number to measure, ``between`` two parts or points or of a measure, with the drives ``at``.

    ``expected`` by the model, and ``plus_minus`` that: ``reading_error``, what the tolerances of the file may change by
    slopes (``by_tolerances``), and ``surface_error``. ``shows``: the numbers of the file that it would show first,
    each with how far off that must be. ``reading`` and ``answer`` are null until one is given.
    """

    name: str
    kind: CheckWord
    between: tuple[str, ...]
    unit: str
    at: Settings
    expected: float
    plus_minus: float
    reading_error: float
    by_tolerances: float
    surface_error: float
    shows: Mapping[str, float]
    reading: float | None = None
    answer: AgreesWord | None = None


@dataclass(frozen=True, slots=True)
class ChecksRecord:
    """What ``swingroom checks`` found; ``verdict`` fails where a reading says "look again".

    ``swept``: what the sweep says of the machine as drawn.
    """

    format: int
    kind: Literal["checks"]
    program: ProgramEntry
    machine: MachineEntry
    drives: Mapping[str, DriveEntry]
    verdict: VerdictWord
    reason: str
    swept: VerdictWord
    checks: tuple[PrototypeCheckEntry, ...]
