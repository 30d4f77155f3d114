"""The record of ``swingroom spread``: what tolerances leave of every figure.

mm and degrees. A figure is told by what is left of its rule, its margin; of a measure without limits by its value.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from assembly.record.entries import DriveEntry, MachineEntry, ProgramEntry
from assembly.record.values import Settings, VerdictWord


@dataclass(frozen=True, slots=True)
class ToleranceEntry:
    """A dimension that may lie from ``low`` to ``high`` off its ``value``.

    ``general``: the class that this is from, where the dimension states none.
    """

    name: str
    value: float
    low: float
    high: float
    general: str


@dataclass(frozen=True, slots=True)
class PlayEntry:
    """The play of a joint from end to end, mm and degrees; ``axial`` from where it is drawn. ``fit``: what it is of."""

    joint: str
    radial: float
    axial: tuple[float, float]
    angle: float
    fit: str


@dataclass(frozen=True, slots=True)
class ShareEntry:
    """What one dimension takes of a figure at its worse end: ``takes``, and its ``share`` of what all take.

    ``slope``: what the figure gains for each 1 that the dimension grows; null where the file cannot be read so, and of
    the play of a joint, which goes either way.
    """

    dimension: str
    slope: float | None
    takes: float
    share: float


@dataclass(frozen=True, slots=True)
class SampledEntry:
    """A figure over random machines, at the setting that governs it.

    ``machines`` went together of those that were made. ``mean`` and ``deviation`` (standard, with the limits that hold
    it with the record's confidence), and ``broken``: the share that breaks the rule, with its limits; null without one.
    """

    machines: int
    mean: float
    deviation: float
    deviation_low: float
    deviation_high: float
    broken: float | None = None
    broken_low: float | None = None
    broken_high: float | None = None


@dataclass(frozen=True, slots=True)
class SpreadFigureEntry:
    """One figure: the clearance of a pair, the margin of a joint, the roll of a rod, a measure, or a stop.

    ``names`` and ``motion`` are as in the record of ``helps``. ``required``: the clearance that a pair must keep.
    ``nominal``: its margin as drawn, at the setting ``at`` that governs it. ``proven``: the margin that it keeps at
    every setting whatever the dimensions are within their tolerances; null where none is proven, with the reason
    ``why``. ``shown``: the margin of the machine that the slopes take for the worst, made anew, at the setting ``at``,
    and how far ``off`` its dimensions are: the worst is no more than that. ``by_slopes``: nominal less what all
    dimensions take at their worse ends, to first order. ``root_sum``: the root of the sum of squares of half of what
    each dimension may change it by; ``middle``: by how much the middles of the tolerances shift it. ``range``: what a
    measure is proven to stay between. ``growth`` and ``play`` mm: what of ``proven`` is taken off for what shapes may
    stand out by, and for how much nearer the play of joints lets them come.
    """

    kind: Literal["pair", "joint", "rod", "measure", "stop"]
    names: tuple[str, ...]
    motion: str
    unit: str
    required: float | None
    nominal: float
    at: Settings
    proven: float | None
    why: str
    shown: float | None
    off: Settings
    by_slopes: float
    root_sum: float
    middle: float
    sampled: SampledEntry | None
    shares: tuple[ShareEntry, ...]
    verdict: VerdictWord | None
    growth: float = 0.0
    play: float = 0.0
    range: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class SpreadRecord:
    """What ``swingroom spread`` found; ``verdict`` is clear only where the worst case keeps every rule.

    ``refused``: why nothing is proven of the machine as built, empty where something is. ``seed``, ``machines`` and
    ``confidence`` are of the random machines; dimensions are spread normally, with a sixth of their tolerance for the
    standard deviation.
    """

    format: int
    kind: Literal["spread"]
    program: ProgramEntry
    machine: MachineEntry
    drives: Mapping[str, DriveEntry]
    verdict: VerdictWord
    reason: str
    tolerances: tuple[ToleranceEntry, ...]
    figures: tuple[SpreadFigureEntry, ...]
    refused: tuple[str, ...]
    seed: int
    machines: int
    confidence: float
    unproven_share: float = 0.0
    play: tuple[PlayEntry, ...] = ()
