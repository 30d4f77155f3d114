"""What is in of the threads of rods, and the rules that the builder picked for it, in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from assembly.record import EngagementEntry, Record, ThreadedRodEntry
from assembly.report.text.layout import TONES, Block, Heading, Line, Table, Tone
from assembly.report.text.words import figure, gap, short

RULE_COLUMNS = ("verdict", "rule", "must be in mm", "margin mm", "end")
RULE_FIGURES = frozenset(("must be in mm", "margin mm"))


def thread_blocks(record: Record) -> Iterator[Block]:
    """What is in of the threads of rods, in the report of a sweep."""
    if not record.threads:
        return
    yield Heading("Rods that are screwed together: what is in of their threads")
    for rod in record.threads:
        inside = " and ".join(f"{gap(end.engaged_mm)} mm ({end.size})" for end in rod.ends)
        verdict = "no rule is picked" if rod.verdict is None else rod.verdict.upper()
        tone = Tone.PLAIN if rod.verdict is None else TONES[rod.verdict]
        yield Line(f"{rod.name}: {verdict}, {figure(rod.length_mm)} mm from ball to ball, {inside} in", tone, 1)
    yield from rule_blocks(record.threads)


def short_thread(rod: ThreadedRodEntry) -> str:
    """A rod of which a thread does not keep its rule, in a sentence."""
    end, rule = rod.failing[0]
    if rule.required_mm is None:
        return f"{rod.name} is not captive, as the rule `{rule.rule}` asks"
    asked = f"the rule `{rule.rule}` asks for {short(rule.required_mm)} mm"
    return f"{rod.name} has {gap(end.engaged_mm)} mm of thread in at {end.joint}; {asked}"


def rule_blocks(rods: Sequence[ThreadedRodEntry]) -> Iterator[Block]:
    """What is asked of every thread, the rules that are not kept first, and where the rules are from."""
    judged = [row for rod in rods for row in _judged(rod, briefly=len(rods) == 1)]
    judged.sort(key=lambda one: one[1].verdict != "fails")
    if not judged:
        return
    yield Table(
        RULE_COLUMNS,
        tuple(_rule_row(end, rule) for end, rule in judged),
        RULE_FIGURES,
        tuple(TONES[rule.verdict] for _, rule in judged),
        ("rule of engagement", "rules of engagement"),
    )
    yield Heading("Where these rules are from", aside="where the rules are from")
    for rule, source in dict.fromkeys((rule.rule, rule.source) for _, rule in judged):
        yield Line(f"{rule}: {source}", Tone.QUIET, 1)


def _judged(rod: ThreadedRodEntry, *, briefly: bool) -> list[tuple[str, EngagementEntry]]:
    """Every rule with the end that it is told of, or both where they are alike, ``briefly`` without their names."""
    first, second = rod.ends
    if first.rules == second.rules:
        return [("both" if briefly else f"{first.joint}, {second.joint}", rule) for rule in first.rules]
    return [(end.joint, rule) for end in rod.ends for rule in end.rules]


def _rule_row(end: str, rule: EngagementEntry) -> tuple[str, ...]:
    asked = "–" if rule.required_mm is None else short(rule.required_mm)
    more = "–" if rule.margin_mm is None else gap(rule.margin_mm)
    return rule.verdict.upper(), rule.rule, asked, more, end


def cure_of_thread(rod: ThreadedRodEntry) -> str:
    """What gives a thread that is short of its rule enough."""
    short_of = [-rule.margin_mm for _, rule in rod.failing if rule.margin_mm is not None]
    if not short_of:
        return "make the tube longer" if not rod.opposite else "take two threads of one hand, or leave the rule out"
    return f"make the tube {short(2 * max(short_of))} mm longer, or the rod shorter by as much"
