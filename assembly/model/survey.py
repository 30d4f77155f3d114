"""What was measured on the machine that stands in the shop, and which numbers of the file may not be so there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from assembly.model.measure import Measure
from assembly.model.positions import Place


@dataclass(frozen=True, slots=True)
class Observation:
    """One reading of a rule, a protractor or a level: ``reading`` of ``measure``, with the drives at ``at``.

    In mm or degrees. ``plus_minus``: what the reading is off by at most in 19 of 20 cases, two standard deviations.
    ``line``: where the file has it.
    """

    measure: Measure
    reading: float
    plus_minus: float
    at: Mapping[str, float]
    line: int | None = None

    @property
    def name(self) -> str:
        """What the file calls it."""
        return self.measure.name


@dataclass(frozen=True, slots=True)
class Uncertain:
    """A number of the file that may not be so on the machine, by up to ``may_differ`` either way; in its own unit.

    ``name``: what reports call it. ``place``: where the file has it, in its ``line``. ``written``: the arithmetic that
    stands there, empty for a number.
    """

    name: str
    place: Place
    value: float
    may_differ: float
    written: str = ""
    line: int | None = None


@dataclass(frozen=True, slots=True)
class Survey:
    """All readings of the file, and all numbers that may differ, each in the order of the file."""

    observations: tuple[Observation, ...] = ()
    uncertain: tuple[Uncertain, ...] = ()
