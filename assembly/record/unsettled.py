"""Pairs that only a sweep can judge: of parts of which some roll is asked and no single one was found."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from assembly.record.values import VerdictWord

if TYPE_CHECKING:
    from assembly.clearance.outcome import PairResult


@dataclass(frozen=True, slots=True)
class UnsettledEntry:
    """The sweep's answer to one such pair, and why it is the answer."""

    a: str
    b: str
    verdict: VerdictWord
    why: str


def unsettled_entries(results: Iterable[PairResult]) -> tuple[UnsettledEntry, ...]:
    """The sweep's answers to such pairs."""
    return tuple(UnsettledEntry(one.pair.a, one.pair.b, one.verdict.value, one.why) for one in results)
