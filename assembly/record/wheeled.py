"""The record of ``swingroom wheels``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from assembly.record.entries import DriveEntry, MachineEntry, ProgramEntry
from assembly.record.measure_entries import MeasureEntry
from assembly.record.values import VerdictWord
from assembly.record.wheel_entries import WheelTables


@dataclass(frozen=True, slots=True)
class WheelsRecord:
    """What ``swingroom wheels`` found. ``verdict`` is of the limits of the figures, clear where none has any.

    ``tables``: at settings; ``measures``: figures over the range, least and most, found and proven.
    """

    format: int
    kind: Literal["wheels"]
    program: ProgramEntry
    machine: MachineEntry
    drives: Mapping[str, DriveEntry]
    verdict: VerdictWord
    reason: str
    tables: WheelTables
    measures: tuple[MeasureEntry, ...] = ()
