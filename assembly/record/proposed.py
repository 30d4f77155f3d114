"""The record of proposals: the smallest changes of marked dimensions after which every rule of the machine holds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from assembly.record.entries import DriveEntry, MachineEntry, ProgramEntry
from assembly.record.helping import WorseEntry
from assembly.record.values import VerdictWord


@dataclass(frozen=True, slots=True)
class AllowedEntry:
    """A marked dimension: its value, and what the file says it may be.

    ``moves``: how many of the rules that are near their limit depend on it. ``stays``: why it was not changed, if so.
    """

    name: str
    value: float
    low: float
    high: float
    step: float | None
    sizes: tuple[float, ...]
    weight: float | None
    moves: int
    stays: str


@dataclass(frozen=True, slots=True)
class MarginEntry:
    """A rule of a pair, a joint, a rod, a measure or the whole range, and its margin: below 0 where it is broken.

    ``names``: two parts; a joint; the parts of a rod; a measure, ``motion`` its "least" or "most". ``margin`` in
    ``unit``; null where it is not known. ``required``: the clearance of a pair, mm; of the others there is none.
    """

    kind: Literal["pair", "joint", "rod", "measure", "range"]
    names: tuple[str, ...]
    motion: str
    unit: str
    margin: float | None
    required: float | None = None


@dataclass(frozen=True, slots=True)
class MendedEntry:
    """A rule that is not kept today, and what is proven of it after a change: a clearance, or what a limit leaves.

    ``before`` is below 0 where two parts stand in each other.
    """

    rule: MarginEntry
    before: float | None
    after: float | None


@dataclass(frozen=True, slots=True)
class ValueEntry:
    """A dimension with its value today and another one; ``line`` and ``text`` are what then stands in the file."""

    name: str
    before: float
    after: float
    line: int | None
    text: str


@dataclass(frozen=True, slots=True)
class ProposalEntry:
    """Values with which the machine was swept over the whole range, and the verdict on it so.

    ``mended``: rules that are not kept today. ``worse``: figures near their rule that lose by it.
    """

    values: tuple[ValueEntry, ...]
    verdict: VerdictWord
    reason: str
    mended: tuple[MendedEntry, ...]
    worse: tuple[WorseEntry, ...]


@dataclass(frozen=True, slots=True)
class BoundEntry:
    """A limit that the file sets to a dimension."""

    name: str
    value: float
    side: Literal["least", "most"]


@dataclass(frozen=True, slots=True)
class ContradictionEntry:
    """Rules and limits that cannot all be kept, as far as slopes where it came nearest tell; none of them too many.

    ``values``: where it came nearest; ``missed``: the rules that are not kept there, with what was measured.
    """

    rules: tuple[MarginEntry, ...]
    limits: tuple[BoundEntry, ...]
    values: tuple[ValueEntry, ...]
    missed: tuple[MarginEntry, ...]


@dataclass(frozen=True, slots=True)
class ProposalRecord:
    """What can be done about a machine within what its file allows to change.

    ``verdict`` and ``reason`` are those of the machine as it is, with ``clearance_mm`` for the pair ``asked`` if there
    is one. ``contradiction``: null where a change was found, or nothing had to change. ``stopped``: why the search
    ended early. ``measured``: how many changed machines were put together and measured.
    """

    program: ProgramEntry
    machine: MachineEntry
    drives: Mapping[str, DriveEntry]
    verdict: VerdictWord
    reason: str
    allowed: tuple[AllowedEntry, ...]
    broken: tuple[MarginEntry, ...]
    asked: tuple[str, ...] = ()
    clearance_mm: float | None = None
    proposals: tuple[ProposalEntry, ...] = ()
    contradiction: ContradictionEntry | None = None
    measured: int = 0
    stopped: str = ""
