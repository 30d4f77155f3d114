"""The record of ``swingroom measures``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from assembly.record.entries import DriveEntry, MachineEntry, ProgramEntry
from assembly.record.measure_entries import MeasureEntry
from assembly.record.values import Settings, VerdictWord


@dataclass(frozen=True, slots=True)
class MeasureTrack:
    """Values of measures at settings: ``values`` of each by its name, null where it has none or is not reached.

    ``along``: the drives that were moved, the last one quickest; ``held``: where the others stood.
    """

    along: tuple[str, ...]
    held: Settings
    at: tuple[Settings, ...]
    values: Mapping[str, tuple[float | None, ...]]


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
