"""Variants held against the file's own, and the best of them by one stated rule."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.record import BestEntry, PairLossEntry, VariantEntry, VariantPairEntry, VerdictWord

RULE = "the largest proven clearance beyond what is required, of the pair that has least of it"
CHANGED_MM = 0.005
"""A least clearance that is shown as another figure."""


def against_file(entries: Sequence[VariantEntry]) -> tuple[VariantEntry, ...]:
    """``entries`` with what is not as in the first of them, the file's own."""
    if not entries or entries[0].state != "swept":
        return tuple(entries)
    own, *others = entries
    return own, *(_compared(one, own) for one in others)


def _compared(entry: VariantEntry, own: VariantEntry) -> VariantEntry:
    held = {frozenset((pair.a, pair.b)) for pair in own.pairs if pair.verdict != "clear"}
    fails_now = tuple(
        (pair.a, pair.b) for pair in entry.pairs if pair.verdict != "clear" and frozenset((pair.a, pair.b)) not in held
    )
    return replace(
        entry,
        differs=tuple(_differs(entry, own)),
        least_change_mm=_change(entry, own),
        loses_most=max(_losses(entry, own), key=lambda one: one.lost_mm, default=None),
        fails_now=fails_now,
    )


def _losses(entry: VariantEntry, own: VariantEntry) -> Iterator[PairLossEntry]:
    """The pairs that were closed in on here and in the file, and lose more than a figure's last digit."""
    before = {(pair.a, pair.b): pair.found_mm for pair in own.pairs if pair.closed_in or pair.depth_mm is not None}
    for pair in entry.pairs:
        was, now = before.get((pair.a, pair.b)), pair.found_mm
        sure = pair.closed_in or pair.depth_mm is not None
        if sure and was is not None and now is not None and was - now >= CHANGED_MM:
            yield PairLossEntry(pair.a, pair.b, was - now)


def _differs(entry: VariantEntry, own: VariantEntry) -> Iterator[str]:
    if entry.state != "open" and (entry.state, entry.verdict) != (own.state, own.verdict):
        yield "verdict"
    if entry.state != "swept":
        return
    if _names(entry.worst) != _names(own.worst):
        yield "pair"
    change = _change(entry, own)
    if change is None or abs(change) >= CHANGED_MM:
        yield "least"
    first, before = entry.first_joint, own.first_joint
    if (first and (first.joint, first.motion)) != (before and (before.joint, before.motion)):
        yield "joint"
    if (entry.stops, entry.stops_verdict) != (own.stops, own.stops_verdict):
        yield "stops"


def _names(pair: VariantPairEntry | None) -> tuple[str, str] | None:
    return None if pair is None else (pair.a, pair.b)


def _change(entry: VariantEntry, own: VariantEntry) -> float | None:
    """By how much the worst pair's least clearance is larger than that of the file's, an overlap counted below 0."""
    now, before = (one.worst.found_mm if one.worst else None for one in (entry, own))
    return None if now is None or before is None else now - before


def best_of(entries: Sequence[VariantEntry], effort: Effort) -> BestEntry | None:
    """The rows that come first; together those that are alike as far as pairs were closed in on.

    Of rows that hold if there is any, else of those that are undecided; never one that fails.
    """
    for verdict, rows in _classes(entries):
        ranked = sorted((row for row in rows if row.margin_mm is not None), key=lambda row: -(row.margin_mm or 0.0))
        if ranked:
            top, nearest = ranked[0].margin_mm or 0.0, ranked[0].worst
            near = effort.bracket(nearest.least_mm or 0.0 if nearest else 0.0, 0.0)
            alike = sorted(row.number for row in ranked if (row.margin_mm or 0.0) >= top - near)
            return BestEntry(tuple(alike), verdict, RULE, near)
    return None


def _classes(entries: Sequence[VariantEntry]) -> Iterator[tuple[VerdictWord, list[VariantEntry]]]:
    swept = [one for one in entries if one.state == "swept"]
    holds = [one for one in swept if one.holds]
    if holds:
        yield "clear", holds
        return
    verdicts = ((one, {one.verdict, one.stops_verdict or one.verdict}) for one in swept)
    yield "undecided", [one for one, words in verdicts if "fails" not in words]
