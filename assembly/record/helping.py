"""The record of what would help: how every figure that has a rule changes with every number of the file, and answers.

mm and degrees. A slope is what a figure's room gains where one number grows by 1; the setting that governs it is kept.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from assembly.record.entries import DriveEntry, MachineEntry, ProgramEntry
from assembly.record.values import Settings, VerdictWord


@dataclass(frozen=True, slots=True)
class NumberEntry:
    """One number of the file: a dimension, a coordinate of a named point, or a length that a part is set to.

    ``worked_out``: arithmetic stands there. ``refused``: why the file cannot be read with this number alone changed.
    ``moves``: how many of the figures depend on it.
    """

    name: str
    kind: Literal["dimension", "point", "length"]
    value: float
    worked_out: bool
    refused: str
    moves: int


@dataclass(frozen=True, slots=True)
class SlopeEntry:
    """What a figure gains for each 1 that the number grows (``up``), and loses for each 1 that it shrinks (``down``).

    The two differ where features change over. Null where the machine does not go together with this number alone
    changed: a loop is held by more than it needs.
    """

    number: str
    up: float | None
    down: float | None


@dataclass(frozen=True, slots=True)
class GoverningEntry:
    """One setting and feature that governs a figure: two shapes of a pair, with what each number does there."""

    at: Settings
    shape_a: str
    shape_b: str
    room: float
    slopes: tuple[SlopeEntry, ...]


@dataclass(frozen=True, slots=True)
class FigureEntry:
    """One figure that has a rule: room of a pair (mm), reserve of a joint's motion, roll of a rod (degrees), or a stop.

    Of a stop it is how far from rest it is struck, the other drives at rest, in the unit of its drive (``motion``). Of
    a measure it is what is left of a limit, ``motion`` "least" or "most"; of one without limits its "value" with all
    drives at 0. ``names``: two parts; a joint; the parts of a rod; a measure; a stop. ``places``: all that govern
    alike, the first the worst. ``proven_mm``: no setting brings the two parts nearer; null if they fail or nothing is
    proven. ``play``: what the play of each joint takes of it at the first place, to first order.
    """

    kind: Literal["pair", "joint", "rod", "measure", "stop"]
    names: tuple[str, ...]
    motion: str
    unit: str
    room: float
    required: float | None
    verdict: VerdictWord | None
    places: tuple[GoverningEntry, ...]
    proven_mm: float | None = None
    play: Mapping[str, float] = field(default_factory=dict)

    @property
    def kept_mm(self) -> float:
        """What two parts are proven to keep; if that is not known, how near they were found, less than 0 if deep."""
        return self.room + (self.required or 0.0) if self.proven_mm is None else self.proven_mm

    def keeps(self, wanted_mm: float) -> bool:
        """Whether two parts are proven to keep what is wanted."""
        clear = self.verdict == "clear"
        return clear and (self.kept_mm >= wanted_mm or wanted_mm <= (self.required or 0.0))


@dataclass(frozen=True, slots=True)
class WorseEntry:
    """A figure that an answer makes worse: its room before and after, in its unit."""

    what: str
    unit: str
    before: float
    after: float


@dataclass(frozen=True, slots=True)
class AnswerEntry:
    """One number changed from ``before`` to ``after``, and the sweep of the whole machine so.

    ``proven_mm``: no setting brings the pair nearer. ``verdict`` and ``reason`` are the machine's. ``worse``: what
    loses room by it.
    """

    number: str
    before: float
    after: float
    least_mm: float
    proven_mm: float
    verdict: VerdictWord
    reason: str
    worse: tuple[WorseEntry, ...]


@dataclass(frozen=True, slots=True)
class NoAnswerEntry:
    """A number that was tried alone and is no answer, with the reason."""

    number: str
    why: str


@dataclass(frozen=True, slots=True)
class HelpRecord:
    """What would help a machine: its figures, worst first, over all its numbers.

    ``asked``: names of the figure that is asked about; ``wanted_mm``: what a pair is to keep, null where no answers
    were sought.
    """

    program: ProgramEntry
    machine: MachineEntry
    drives: Mapping[str, DriveEntry]
    verdict: VerdictWord
    reason: str
    numbers: tuple[NumberEntry, ...]
    figures: tuple[FigureEntry, ...]
    asked: tuple[str, ...] = ()
    wanted_mm: float | None = None
    answers: tuple[AnswerEntry, ...] = ()
    no_answers: tuple[NoAnswerEntry, ...] = ()
