"""The record of ``swingroom measured``: what the machine that was measured has, and how it is then swept.

mm and degrees. What is given as ± is meant as the errors of the readings are: 19 of 20 cases.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from assembly.record.entries import DriveEntry, MachineEntry, ProgramEntry
from assembly.record.values import Settings, VerdictWord

KnownWord = Literal["known", "barely", "together", "unseen"]


@dataclass(frozen=True, slots=True)
class ObservationEntry:
    """One reading: what the file as drawn comes to there, and the machine as fitted.

    ``others``: what all other readings say of it, ± ``others_plus_minus``; null where they say nothing. ``deviations``:
    how many standard deviations it is from that. ``left_out``: it contradicts the others and is not used.
    ``doubtful``: it is one of those of which one is wrong. ``moved``: whether any number that may differ changes it;
    ``rigid``: the parts that it is read between do not move against each other.
    """

    name: str
    kind: str
    unit: str
    between: tuple[str, ...]
    at: Settings
    reading: float
    plus_minus: float
    drawn: float
    fitted: float
    others: float | None
    others_plus_minus: float | None
    deviations: float | None
    left_out: bool
    doubtful: bool
    moved: bool
    rigid: bool
    line: int | None


@dataclass(frozen=True, slots=True)
class FittedEntry:
    """One number of the file that may differ: as ``drawn``, and as ``fitted`` ± ``plus_minus``.

    ``known``: "barely" where the readings know it hardly better than the file; "together" where they see only a
    combination of it with ``others``; "unseen" where none sees it; ± is null for these two. ``at_limit``: it is as far
    off as the file lets it be.
    """

    name: str
    drawn: float
    fitted: float
    plus_minus: float | None
    may_differ: float
    known: KnownWord
    others: tuple[str, ...]
    at_limit: bool
    line: int | None


@dataclass(frozen=True, slots=True)
class NextReadingEntry:
    """A distance between two joints or points, with the drives ``at``, that would tell the most, read ± ``plus_minus``.

    ``number``: what it would tell most of, known ± ``before`` now and ± ``after`` it.
    """

    first: str
    second: str
    at: Settings
    expected: float
    plus_minus: float
    number: str
    before: float
    after: float


@dataclass(frozen=True, slots=True)
class SidesEntry:
    """A number or reading of one side and its twin, in the mirror: ``apart`` is the first less the other.

    ``drawn_apart``: the same in the file. ``plus_minus``: of ``apart``; null where it is not known.
    """

    kind: Literal["reading", "number"]
    first: str
    second: str
    unit: str
    apart: float
    drawn_apart: float
    plus_minus: float | None


@dataclass(frozen=True, slots=True)
class BuiltPairEntry:
    """A pair as drawn and as it stands: the least found, null where it was not closed in on, and the verdicts."""

    a: str
    b: str
    required: float
    drawn: float | None
    built: float | None
    at: Settings
    drawn_verdict: VerdictWord
    built_verdict: VerdictWord


@dataclass(frozen=True, slots=True)
class BuiltSweepEntry:
    """What the sweeps of the machine as drawn and as it stands say; the pairs that got nearest or worst first."""

    drawn_verdict: VerdictWord
    drawn_reason: str
    built_verdict: VerdictWord
    built_reason: str
    pairs: tuple[BuiltPairEntry, ...]


@dataclass(frozen=True, slots=True)
class SurveyRecord:
    """What ``swingroom measured`` found. ``verdict`` is of the machine as it stands, "clear" only if all is known.

    ``rank`` combinations of the numbers are seen. ``agrees``: whether the readings that are used agree within their
    errors; ± is larger where they do not. ``lines``: those of the file that are to be replaced, by their number.
    """

    format: int
    kind: Literal["measured"]
    program: ProgramEntry
    machine: MachineEntry
    drives: Mapping[str, DriveEntry]
    verdict: VerdictWord
    reason: str
    readings: tuple[ObservationEntry, ...]
    numbers: tuple[FittedEntry, ...]
    rank: int
    agrees: bool
    checked: int
    """How many readings there are beyond what the numbers need."""
    next: tuple[NextReadingEntry, ...]
    sides: tuple[SidesEntry, ...]
    lines: Mapping[int, str]
    swept: BuiltSweepEntry | None = None
