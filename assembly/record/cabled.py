"""The record of cables: lengths to cut, what the motion pulls, and what splitters share. mm, degrees, N."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from assembly.record.cable_entries import CableEntry, SplitterEntry
from assembly.record.entries import DriveEntry, MachineEntry, ProgramEntry
from assembly.record.values import VerdictWord


@dataclass(frozen=True, slots=True)
class CablesRecord:
    """What ``swingroom cables`` found; ``verdict`` is of all limits, clear where none is given."""

    program: ProgramEntry
    machine: MachineEntry
    drives: Mapping[str, DriveEntry]
    verdict: VerdictWord
    reason: str
    cables: tuple[CableEntry, ...]
    splitters: tuple[SplitterEntry, ...]
