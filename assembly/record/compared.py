"""What a comparison of two runs says, as plain values. Before comes before now everywhere; null is "was not there"."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Generic, Literal, TypeVar

from assembly.record.entries import DimensionEntry, DriveEntry, SolidEntry, TravelStopEntry
from assembly.record.values import Settings, VerdictWord

Told = TypeVar("Told")
TurnWord = Literal["fails", "open", "passes", "worse", "better"]
"""``fails``: did not fail, now does. ``open``: was decided, now is not. ``passes``: was not clear, now is.
``worse`` and ``better``: the same verdict, with less or more room than before."""


@dataclass(frozen=True, slots=True)
class RunWord:
    """Which run: ``told`` is how the builder named it, ``digest`` the SHA-256 of its mechanism file."""

    told: str
    name: str
    file: str
    made: str
    version: str
    verdict: VerdictWord
    reason: str
    digest: str


@dataclass(frozen=True, slots=True)
class PairSide:
    """One pair in one run. ``room_mm`` is the least distance found, below zero an overlap's depth.

    Where it was not ``closed_in`` on, that is only a distance that a setting shows.
    """

    verdict: VerdictWord
    room_mm: float | None
    proven_mm: float | None
    required_mm: float
    at: Settings
    shape_a: str
    shape_b: str
    swallowed: bool
    closed_in: bool = False
    deep_at_most_mm: float | None = None
    """Of an overlap: proven nowhere deeper; null where the depth is only the greatest found."""
    constant: bool = False

    @property
    def depth_open(self) -> bool:
        """Whether it was struck, perhaps deeper than was found."""
        return (self.room_mm or 0.0) < 0 and self.deep_at_most_mm is None


@dataclass(frozen=True, slots=True)
class PairChange:
    """A pair that is not as it was; new where ``before``, gone where ``now`` is null, ``why`` then says why.

    ``change_mm`` is what the room grew by. Where ``at_least`` is true one of both runs did not close in on the pair,
    and it grew or shrank by that much or more. ``too_much``: it shrank by more than was allowed.
    """

    a: str
    b: str
    turn: TurnWord | None
    change_mm: float | None
    at_least: bool
    too_much: bool
    before: PairSide | None
    now: PairSide | None
    why: str = ""

    @property
    def as_seen(self) -> bool:
        """Whether the change is one of depths of which the greatest may not have been found."""
        return not self.at_least and any(side.depth_open for side in (self.before, self.now) if side is not None)


@dataclass(frozen=True, slots=True)
class JointSide:
    """A motion of a joint, the roll of a rod or a measure in one run; ``reserve`` is what is left of its ``limit``."""

    verdict: VerdictWord | None
    reserve: float | None
    limit: float | None
    limiter: str
    at: Settings


@dataclass(frozen=True, slots=True)
class JointChange:
    """A joint's motion, a rod's roll or a limit of a measure that is not as it was, in ``unit`` ("deg" or "mm").

    Of a measure ``motion`` is the limit, "least" or "most".
    """

    name: str
    motion: str
    unit: str
    turn: TurnWord | None
    change: float | None
    before: JointSide | None
    now: JointSide | None


@dataclass(frozen=True, slots=True)
class MeasureValues:
    """A measure in one run: with all drives at 0, and the least and most found over the range."""

    zero: float | None
    least: float | None
    most: float | None


@dataclass(frozen=True, slots=True)
class MeasureChange:
    """A measure that does not come to what it did, in ``unit`` ("deg" or "mm")."""

    name: str
    unit: str
    before: MeasureValues | None
    now: MeasureValues | None


AboutWord = Literal["cables", "rods", "wheels"]
RoundedWord = Literal["near", "up", "down"]


@dataclass(frozen=True, slots=True)
class FigureChange:
    """A figure of cables, rods or wheels that is another now, in ``unit``; ``rounded``: which way it is true.

    ``at``: its setting where it is told over settings; it then is another at some of them.
    """

    about: AboutWord
    name: str
    unit: str
    before: float | None
    now: float | None
    rounded: RoundedWord = "near"
    at: Settings = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class ReachChange:
    """Settings that cannot be reached, as a share of the range; ``turn`` as for pairs."""

    turn: TurnWord
    before_share: float
    now_share: float


@dataclass(frozen=True, slots=True)
class RequiredChange:
    """How many ``pairs`` must now keep another clearance than before."""

    before_mm: float
    now_mm: float
    pairs: int


@dataclass(frozen=True, slots=True)
class Change(Generic[Told]):
    """Something of the file that is not as it was, by its name."""

    name: str
    before: Told | None
    now: Told | None


@dataclass(frozen=True, slots=True)
class Comparison:
    """Everything that is not the same in two runs; ``pairs`` and ``joints`` sorted, what matters most first.

    ``worse``: something fails that did not, or a room shrank by more than ``shrank_mm``. ``opened``: how many pairs and
    joints were decided and now are not. ``drives`` are those of now and those that are gone; with another range of one
    in ``ranges`` rooms change though no part did. ``files``: mesh files by SHA-256. ``same_pairs`` and ``same_joints``
    are counted only; ``vague_pairs`` are those of them that neither run, or only one, closed in on, so that a small
    change would not be seen. ``no_details``: a record is from before dimensions and parts were kept.
    """

    before: RunWord
    now: RunWord
    shrank_mm: float
    worse: bool
    opened: int
    pairs: tuple[PairChange, ...]
    new_pairs: tuple[PairChange, ...]
    gone_pairs: tuple[PairChange, ...]
    joints: tuple[JointChange, ...]
    reach: ReachChange | None
    required: tuple[RequiredChange, ...]
    dimensions: tuple[Change[DimensionEntry], ...]
    stops: tuple[Change[TravelStopEntry], ...]
    drives: Mapping[str, DriveEntry]
    ranges: tuple[Change[DriveEntry], ...]
    parts: tuple[Change[SolidEntry], ...]
    files: tuple[Change[str], ...]
    same_pairs: int
    vague_pairs: int
    same_joints: int
    no_details: bool
    measures: tuple[MeasureChange, ...] = ()
    """What measures come to, with limits or without, where that is not as it was."""
    weights: tuple[Change[float], ...] = ()
    """Masses in kg of parts, and of all together, where both runs know weights."""
    figures: tuple[FigureChange, ...] = ()
    """What sweeps tell besides, of cables, rods and wheels, where both runs tell it and it is not as it was."""
