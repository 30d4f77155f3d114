"""What every step of reading one mechanism file works with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from assembly.geometry.mesh import Mesh
from assembly.model.fault_list import FaultLog, place_text
from assembly.model.machine import FindingKind, Vector
from assembly.model.mirror import Mirror
from assembly.model.positions import Place
from assembly.model.quantities_read import FileNumbers, Points
from assembly.model.ties import Tie
from assembly.record import FindingEntry

OwnPoints = Mapping[str, Vector | None]


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """One solid of the file; ``stated`` where its size cannot be a misread unit."""

    place: Place
    mesh: Mesh
    stated: bool


@dataclass(frozen=True, slots=True)
class Bench:
    """The file's log, its numbers and points, all names with their twins, and what reading gathers on the way."""

    log: FaultLog
    figures: FileNumbers
    points: Points
    mirror: Mirror
    folder: Path
    facet_error: float
    part_names: Mapping[str, None]
    ties: Mapping[str, Tie | None]
    """Every joint of the file and every twin; None where the joint is faulty."""
    findings: list[FindingEntry] = field(default_factory=list)
    digests: dict[str, str] = field(default_factory=dict)
    drawn: dict[str, Drawn] = field(default_factory=dict)
    """Every solid that was read, by what a finding calls it."""

    def note(self, place: Place | str, message: str, kind: FindingKind = FindingKind.NOTE) -> None:
        """Something that the builder should know about a place of the file, or about what is named."""
        if isinstance(place, str):
            self.findings.append(FindingEntry(kind, place, message))
        else:
            parts = (str(place[1]),) if place[0] == "parts" else ()
            self.findings.append(FindingEntry(kind, place_text(place), message, parts, self.log.line(place)))
