"""Entries of the record about measures; the same conventions as in ``entries``."""

from __future__ import annotations

from dataclasses import dataclass

from assembly.record.values import Settings, VerdictWord


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
    def is_proven(self) -> bool:
        """Whether both ends are known to be passed nowhere."""
        return self.proven_least is not None and self.proven_most is not None
