"""Entries of the record about measures; the same conventions as in ``entries``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from assembly.record.values import Settings, VerdictWord

NOT_CLOSE = "what is found and what is proven could not be brought close enough together"
"""Why a measure is told less closely than is promised; its bounds hold all the same."""


@dataclass(frozen=True, slots=True)
class MeasureTermsEntry:
    """The sum behind a proven bound, in the cell ``at`` ± ``half`` that governs it, in the measure's unit.

    ``value`` at the cell's centre; beyond it ``change`` to first and second order, ``rest`` that these leave out, the
    solver's miss included, and ``rounding``.
    """

    at: Settings
    half: Settings
    value: float
    change: float
    rest: float
    rounding: float


GRAIN = 1e-6
"""degrees or mm: a limit passed by less is kept."""


@dataclass(frozen=True, slots=True)
class MeasureSide:
    """One limit of a measure, ``least`` or ``most``: what was found and is proven of it, and what is left."""

    motion: Literal["least", "most"]
    limit: float
    found: float | None
    proven: float | None
    margin: float | None
    at: Settings
    verdict: VerdictWord


@dataclass(frozen=True, slots=True)
class MeasureAtEntry:
    """One measure at one setting: its ``value``, null where it has none, and what it may be."""

    name: str
    unit: str
    value: float | None
    limit_low: float | None
    limit_high: float | None
    verdict: VerdictWord | None
    why: str = ""


@dataclass(frozen=True, slots=True)
class MeasureEntry:
    """One measure over the range, in ``unit`` ("deg" or "mm").

    ``of``: the points, lines and planes that it is of, the axis last. ``zero``: its value with all drives at 0, null
    where it has none. ``least`` and ``most`` were found, at ``at_least`` and ``at_most``; ``proven_least`` and
    ``proven_most`` are passed at no setting. ``limit_low`` and ``limit_high`` are what it may be, ``margin`` what is
    left of the nearer of them, at ``at``. ``drives``: those that can move it; with none it is the same everywhere.
    ``why``: what is not known and for which reason. ``verdict`` is null without limits.
    """

    name: str
    kind: str
    of: tuple[str, ...]
    unit: str
    zero: float | None
    least: float | None
    most: float | None
    at_least: Settings
    at_most: Settings
    proven_least: float | None
    proven_most: float | None
    limit_low: float | None
    limit_high: float | None
    margin: float | None
    at: Settings
    drives: tuple[str, ...]
    verdict: VerdictWord | None
    why: str = ""
    least_terms: MeasureTermsEntry | None = None
    most_terms: MeasureTermsEntry | None = None

    @property
    def sides(self) -> tuple[MeasureSide, ...]:
        """Its limits, each by itself."""
        low, high = self.limit_low, self.limit_high
        every = []
        if low is not None:
            left = None if self.least is None else self.least - low
            sure = None if self.proven_least is None else self.proven_least - low
            judged = self._judged(left, sure)
            every.append(MeasureSide("least", low, self.least, self.proven_least, left, self.at_least, judged))
        if high is not None:
            left = None if self.most is None else high - self.most
            sure = None if self.proven_most is None else high - self.proven_most
            judged = self._judged(left, sure)
            every.append(MeasureSide("most", high, self.most, self.proven_most, left, self.at_most, judged))
        return tuple(every)

    def _judged(self, left: float | None, sure: float | None) -> VerdictWord:
        """The verdict on one limit, of which so much is ``left`` as found, and for ``sure``."""
        if self.verdict == "fails" and left is not None and left < -GRAIN:
            return "fails"
        kept = sure is not None and sure >= -GRAIN
        return "clear" if kept and (self.verdict != "undecided" or not self.why) else "undecided"


@dataclass(frozen=True, slots=True)
class MeasureTrack:
    """Values of measures at settings: ``values`` of each by its name, null where it has none or is not reached.

    ``along``: the drives that were moved, the last one quickest; ``held``: where the others stood.
    """

    along: tuple[str, ...]
    held: Settings
    at: tuple[Settings, ...]
    values: Mapping[str, tuple[float | None, ...]]
