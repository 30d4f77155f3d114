"""What a pair's result depends on, and what is known of a pair from an earlier sweep in which all that was the same.

No pair's figures depend on another pair: postures, cells and bounds are made for each as if it were alone. So what one
sweep found of a pair holds in the next, to the last digit, as long as its key is the same. What other pairs do decide
is only how far a pair is looked into, which is therefore distinguished by ``Depth``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Protocol, TypeVar

import numpy as np

from assembly.clearance.narrow_phase.pair_result import PairResult, Verdict
from assembly.clearance.narrow_phase.witness import Witness

Figure = TypeVar("Figure")


class Depth(StrEnum):
    """How far a pair was looked into."""

    APART = "apart"
    """Boxes keep it far enough; its least is the distance of two points."""
    DECIDED = "decided"
    CLOSED_IN = "closed in"
    SHOWN = "shown"
    """Decided or closed in, and it fails: with its overlap, its region and its first contacts."""


@dataclass(frozen=True, slots=True, eq=False)
class PairFound:
    """One pair's result and what shows it at its setting; ``witness`` is None where nothing was measured."""

    result: PairResult
    witness: Witness | None

    @property
    def room(self) -> float:
        """Clearance in mm beyond what is required; an overlap counts by its depth, below zero.

        Of a clear pair that was not closed in on it is what is proven.
        """
        result = self.result
        least = -result.overlap.depth if result.overlap else result.least
        if result.verdict is Verdict.CLEAR and not result.closed_in and result.proven is not None:
            least = result.proven
        return least - result.pair.required


@dataclass(frozen=True, slots=True, eq=False)
class CachedPair:
    """What finished sweeps found of a pair: what boxes prove of it, mm, its least at two moments, and its results.

    The moments, which decide what else is looked at: at rest, and once decided; infinite where it was not measured.
    """

    bound: float
    at_rest: float = np.inf
    decided: float = np.inf
    found: Mapping[Depth, PairFound] = field(default_factory=dict)


class ResultCache(Protocol):
    """Keeps what is known of pairs from one sweep to the next."""

    def look_up(self, keys: Sequence[str]) -> Mapping[str, CachedPair]:
        """What is known by these keys; those that are not known are left out."""

    def keep(self, known: Mapping[str, CachedPair]) -> None:
        """Note what is known by these keys, on top of what was known by them before."""


class FiguresCache(Protocol):
    """Keeps what else is known of a machine from one sweep to the next: values that JSON gives back as they were."""

    def look_up_figures(self, keys: Sequence[str], kind: type[Figure]) -> Mapping[str, Figure]:
        """The values of this ``kind`` by these keys; those that are not known are left out."""

    def keep_figures(self, known: Mapping[str, object]) -> None:
        """Note the values of these keys."""
