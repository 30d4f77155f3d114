"""Entries about rods that are screwed together: lengths, threads and what they are judged by. mm, turns."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from assembly.record.values import VerdictWord

HandWord = Literal["right", "left"]


@dataclass(frozen=True, slots=True)
class EngagementEntry:
    """One rule that the builder picked, at one end: what must be in, and by how much more is (below 0: less).

    Both are null for the rule that a rod must be captive. ``source``: where the rule is from.
    """

    rule: str
    source: str
    required_mm: float | None
    margin_mm: float | None
    verdict: VerdictWord


@dataclass(frozen=True, slots=True)
class RodThreadEntry:
    """One end: of ``thread_mm`` of thread ``engaged_mm`` are in, ``showing_mm`` are not; ``most_mm`` could be in.

    ``turns`` and ``diameters``: what is in, in turns of the pitch and diameters of the thread. ``lock_nut`` is empty
    where none is told. ``stated``: the file says what is in, else half of it is taken for either end; ``by_series``: a
    length is that of a rod end of series K.
    """

    joint: str
    size: str
    pitch_mm: float
    hand: HandWord
    thread_mm: float
    engaged_mm: float
    showing_mm: float
    most_mm: float
    turns: float
    diameters: float
    lock_nut: str
    stated: bool
    by_series: bool
    rules: tuple[EngagementEntry, ...]


@dataclass(frozen=True, slots=True)
class ThreadedRodEntry:
    """A rod ``length_mm`` from ball to ball today, and what its threads allow: ``least_mm`` to ``greatest_mm``.

    ``least_by`` and ``greatest_by``: what ends it there. At ``apart_mm`` a thread leaves the tube. ``per_turn_mm``: of
    the tube; 0 where turning it alters nothing. ``opposite``: a right and a left thread. ``captive``: a tube that turns
    loose comes up against one end before it leaves the other; ``turns_out``: how many turns it leaves an end in.
    ``twin_of``: the rod of the file whose twin it is. ``verdict`` is null where no rule is picked.
    """

    name: str
    part: str
    twin_of: str
    length_mm: float
    tube_mm: float
    least_mm: float
    least_by: str
    greatest_mm: float
    greatest_by: str
    apart_mm: float
    opposite: bool
    per_turn_mm: float
    captive: bool
    turns_out: float
    ends: tuple[RodThreadEntry, RodThreadEntry]
    verdict: VerdictWord | None

    @property
    def failing(self) -> tuple[tuple[RodThreadEntry, EngagementEntry], ...]:
        """Each end and rule that is not kept."""
        return tuple((end, rule) for end in self.ends for rule in end.rules if rule.verdict == "fails")
