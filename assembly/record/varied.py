"""The record of variants side by side: one entry for each set of numbers that was put into the machine and swept.

mm and degrees. Entry 0 is the machine as the file has it; ``change`` fields and ``differs`` are against it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from assembly.record.entries import DriveEntry, MachineEntry, ProgramEntry
from assembly.record.joint_entries import FirstOutEntry
from assembly.record.values import Settings, VerdictWord

StateWord = Literal["swept", "not assembled", "refused", "open"]
"""``refused``: the numbers make no machine; ``open``: not computed to its end."""


@dataclass(frozen=True, slots=True)
class VariedEntry:
    """One number that is varied: its ``value`` in the file, and the ``line`` there, if it is known.

    ``kind``: a dimension, a point's coordinate, a set length, the height of a stop, or washers at a joint, mm by which
    its second part stands farther along the joint's line. ``counted``: what was asked for in whole steps, such as
    ``half turns of 1.25 mm``; ``step`` is what one of them comes to in mm, 0 if the number itself was given.
    """

    name: str
    kind: Literal["dimension", "point", "length", "stop", "joint"]
    value: float
    line: int | None = None
    counted: str = ""
    step: float = 0.0


@dataclass(frozen=True, slots=True)
class VariantPairEntry:
    """A pair of a variant that was closed in on or is not clear; ``depth_mm`` where the two overlap."""

    a: str
    b: str
    required_mm: float
    least_mm: float | None
    proven_mm: float | None
    depth_mm: float | None
    at: Settings
    verdict: VerdictWord
    closed_in: bool

    @property
    def found_mm(self) -> float | None:
        """The least clearance that was found, an overlap below 0."""
        return self.least_mm if self.depth_mm is None else -self.depth_mm


@dataclass(frozen=True, slots=True)
class VariantJointEntry:
    """One motion of a joint of a variant, from the zero position; ``margin`` is what is left of its limit, if any."""

    name: str
    motion: str
    unit: str
    least: float | None
    most: float | None
    margin: float | None
    verdict: VerdictWord | None


@dataclass(frozen=True, slots=True)
class VariantMeasureEntry:
    """A measure of a variant: with all drives at 0, least and most; ``margin``: what is left of its limits, if any."""

    name: str
    unit: str
    zero: float | None
    least: float | None
    most: float | None
    margin: float | None
    verdict: VerdictWord | None


@dataclass(frozen=True, slots=True)
class VariantStopEntry:
    """A stop of a variant: the height it acts with, and from where to where its drive is ended by it."""

    name: str
    drive: str
    side: Literal["low", "high"]
    height_mm: float | None
    acts_from: float | None
    acts_to: float | None


@dataclass(frozen=True, slots=True)
class PairLossEntry:
    """A pair whose least clearance is smaller than in the file, by ``lost_mm``; an overlap counts below 0."""

    a: str
    b: str
    lost_mm: float


@dataclass(frozen=True, slots=True)
class VariantEntry:
    """One variant: ``values`` of the numbers that are varied, and what its sweep found, the worst pair first.

    ``margin_mm``: what is proven of every pair beyond what it must keep; null where nothing is proven of one.
    ``stops_verdict``: whether its stops are proven to hold; null where the file has none, or they were not asked for.
    ``least_change_mm``: least clearance of the worst pair less that of the file's. ``differs``: what is not as in the
    file: "verdict", "pair", "least", "joint", "stops".
    """

    number: int
    values: Mapping[str, float]
    state: StateWord
    verdict: VerdictWord
    reason: str
    name: str = ""
    margin_mm: float | None = None
    pairs: tuple[VariantPairEntry, ...] = ()
    first_joint: FirstOutEntry | None = None
    joints: tuple[VariantJointEntry, ...] = ()
    stops: tuple[VariantStopEntry, ...] = ()
    stops_verdict: VerdictWord | None = None
    stops_reason: str = ""
    differs: tuple[str, ...] = ()
    least_change_mm: float | None = None
    loses_most: PairLossEntry | None = None
    fails_now: tuple[tuple[str, str], ...] = ()
    """Pairs that keep their clearance in the file and are not clear here."""
    measures: tuple[VariantMeasureEntry, ...] = ()
    rolls: Mapping[str, float] = field(default_factory=dict)
    """How far each rod can roll about its own line at the least, degrees; below 0 it binds."""

    @property
    def kept_margin_mm(self) -> float | None:
        """The margin of a variant that does not fail."""
        return None if self.verdict == "fails" else self.margin_mm

    @property
    def worst(self) -> VariantPairEntry | None:
        """The pair with the least clearance beyond what it must keep."""
        return next(iter(self.pairs), None)

    @property
    def holds(self) -> bool:
        """Whether all of it is proven: the sweep, and that its stops hold where it was asked."""
        return self.verdict == "clear" and self.stops_verdict in (None, "clear")


@dataclass(frozen=True, slots=True)
class BestEntry:
    """The ``rows`` that come first by ``rule``, in their order: one is the best, several are alike.

    ``verdict``: that of these rows; only CLEAR ones are called the best. ``alike_mm``: what lies nearer to each other
    is alike.
    """

    rows: tuple[int, ...]
    verdict: VerdictWord
    rule: str
    alike_mm: float


@dataclass(frozen=True, slots=True)
class VariantsRecord:
    """Everything one run of variants found, in the order in which they were asked for.

    ``stopped``: why some are open; ``kept``: how many were known from an earlier run.
    """

    program: ProgramEntry
    machine: MachineEntry
    drives: Mapping[str, DriveEntry]
    varied: tuple[VariedEntry, ...]
    entries: tuple[VariantEntry, ...]
    best: BestEntry | None
    bracket_mm: float
    stopped: str = ""
    kept: int = 0

    @property
    def verdict(self) -> VerdictWord:
        """``clear`` if all were computed and one of them or more holds, ``fails`` if all of them fail."""
        if any(one.state == "open" for one in self.entries):
            return "undecided"
        if any(one.holds for one in self.entries):
            return "clear"
        return "fails" if all("fails" in (one.verdict, one.stops_verdict) for one in self.entries) else "undecided"
