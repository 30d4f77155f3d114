"""What the record says of a rod that is screwed together: its lengths, its threads, and whether its rules are kept."""

from __future__ import annotations

from assembly.model.thread_standards import EngagementRule
from assembly.model.threaded_rod import GRAIN, RodThread, ThreadedRod
from assembly.record import EngagementEntry, RodThreadEntry, ThreadedRodEntry, VerdictWord


def threaded_rod_entry(rod: ThreadedRod) -> ThreadedRodEntry:
    """A rod as it is screwed together today."""
    first, second = (_end(end, rod) for end in rod.ends)
    judged = [rule.verdict for end in (first, second) for rule in end.rules]
    verdict: VerdictWord | None = ("fails" if "fails" in judged else "clear") if judged else None
    return ThreadedRodEntry(
        name=rod.name,
        part=rod.part,
        twin_of=rod.twin_of,
        length_mm=rod.length,
        tube_mm=rod.tube_length,
        least_mm=rod.least.length,
        least_by=rod.least.why,
        greatest_mm=rod.greatest.length,
        greatest_by=rod.greatest.why,
        apart_mm=rod.apart,
        opposite=rod.opposite,
        per_turn_mm=rod.per_turn,
        captive=rod.captive,
        turns_out=rod.turns_out,
        ends=(first, second),
        verdict=verdict,
    )


def _end(end: RodThread, rod: ThreadedRod) -> RodThreadEntry:
    return RodThreadEntry(
        joint=end.joint,
        size=end.size,
        pitch_mm=end.pitch,
        hand=end.hand.value,
        thread_mm=end.length,
        engaged_mm=end.engaged,
        showing_mm=end.showing,
        most_mm=end.most,
        turns=end.engaged / end.pitch,
        diameters=end.engaged / end.diameter,
        lock_nut=end.nut_name,
        stated=any(each.stated for each in rod.ends),
        by_series=end.by_series,
        rules=tuple(_judged(end, rule, rod) for rule in rod.rules),
    )


def _judged(end: RodThread, rule: EngagementRule, rod: ThreadedRod) -> EngagementEntry:
    if rule.captive:
        return EngagementEntry(rule.name, rule.source, None, None, "clear" if rod.captive else "fails")
    required = rule.least(end.diameter, end.pitch, end.length)
    margin = end.engaged - required
    return EngagementEntry(rule.name, rule.source, required, margin, "clear" if margin >= -GRAIN else "fails")
