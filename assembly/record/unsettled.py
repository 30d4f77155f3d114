"""Pairs that only a sweep can judge: of parts of which some roll is asked and no single one was found."""

from __future__ import annotations

from dataclasses import dataclass

from assembly.record.values import VerdictWord


@dataclass(frozen=True, slots=True)
class UnsettledEntry:
    """The sweep's answer to one such pair, and why it is the answer."""

    a: str
    b: str
    verdict: VerdictWord
    why: str
