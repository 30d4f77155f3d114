"""The record of ``swingroom measures``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from assembly.record.entries import DriveEntry, MachineEntry, ProgramEntry
from assembly.record.measure_entries import MeasureEntry, MeasureTrack
from assembly.record.values import VerdictWord


@dataclass(frozen=True, slots=True)
class MeasuresRecord:
    """What ``swingroom measures`` found; ``verdict`` is of the limits of all ``measures``, clear where none has any."""

    format: int
    kind: Literal["measures"]
    program: ProgramEntry
    machine: MachineEntry
    drives: Mapping[str, DriveEntry]
    verdict: VerdictWord
    reason: str
    measures: tuple[MeasureEntry, ...]
    unreachable_share: float = 0.0
    track: MeasureTrack | None = None
