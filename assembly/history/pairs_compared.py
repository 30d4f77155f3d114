"""Pairs of two runs beside each other: which are known to have more or less clearance than before."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from assembly.record import (
    PairChange,
    PairEntry,
    PairSide,
    Record,
    TurnWord,
    VerdictWord,
)

SEEN_MM = 0.02
"""Smallest change of a room that is reported: what walking downhill to the least distance may miss by."""
GRAIN = 1e-6
"""mm or degrees: a rounding of the sum, not a limit that is passed."""
RANK = {"clear": 0, "undecided": 1, "fails": 2}
ORDER: tuple[TurnWord, ...] = ("fails", "open", "passes", "worse", "better")


@dataclass(frozen=True, slots=True)
class PairsCompared:
    """Pairs that changed, sorted; pairs in one run only; and how many others there are."""

    changed: tuple[PairChange, ...]
    new: tuple[PairChange, ...]
    gone: tuple[PairChange, ...]
    same: int
    vague: int


def compare_pairs(before: Record, now: Record, shrank_mm: float) -> PairsCompared:
    """All pairs of both runs."""
    old = {frozenset((pair.a, pair.b)): pair for pair in before.pairs}
    new = {frozenset((pair.a, pair.b)): pair for pair in now.pairs}
    changed, same, vague = [], 0, 0
    for names, pair in new.items():
        if names not in old:
            continue
        change = _change(old[names], pair, shrank_mm)
        if change.turn is not None:
            changed.append(change)
        else:
            same += 1
            vague += not (_closed_in(old[names]) and _closed_in(pair))
    return PairsCompared(
        changed=tuple(sorted(changed, key=_what_matters)),
        new=tuple(sorted(_only(new, old, now=True), key=_worst_now)),
        gone=tuple(_only(old, new, now=False)),
        same=same,
        vague=vague,
    )


def turn_of(before: str, now: str, change: float | None) -> TurnWord | None:
    """What a change of verdict, or of room where the verdict is the same, amounts to."""
    if before != now:
        if now == "fails":
            return "fails"
        return "open" if now == "undecided" else "passes"
    if not change:
        return None
    return "better" if change > 0 else "worse"


def compared_verdict(verdict: VerdictWord, left: float | None) -> VerdictWord:
    """The verdict that a comparison goes by: what was seen with less ``left`` than nothing is never clear."""
    return "undecided" if verdict == "clear" and left is not None and left < -GRAIN else verdict


def _change(old: PairEntry, new: PairEntry, shrank_mm: float) -> PairChange:
    change, at_least = _grown(old, new)
    turn = turn_of(
        compared_verdict(old.verdict, _left_over(old)), compared_verdict(new.verdict, _left_over(new)), change
    )
    too_much = change is not None and change < -shrank_mm and turn != "passes"
    return PairChange(
        a=new.a,
        b=new.b,
        turn=turn,
        change_mm=change,
        at_least=at_least,
        too_much=too_much,
        before=_side(old, turned_round=old.a != new.a),
        now=_side(new),
    )


def _grown(old: PairEntry, new: PairEntry) -> tuple[float | None, bool]:
    """By how much the room grew, and whether that is only the least it did; None if it is not known to have changed.

    What was seen of a pair that was not closed in on may be far above its least: then only the bounds are compared.
    """
    was, is_ = _found(old), _found(new)
    if was is None or is_ is None:
        return None, False
    if _closed_in(old) and _closed_in(new):
        change, deeper_then, deeper_now = is_ - was, _perhaps_deeper(old), _perhaps_deeper(new)
        at_least = deeper_then != deeper_now and deeper_then == (change > 0)
        return (change, at_least) if abs(change) >= SEEN_MM else (None, False)
    shrank, grew = _proven(old) - is_, _proven(new) - was
    if shrank >= SEEN_MM:
        return -shrank, True
    return (grew, True) if grew >= SEEN_MM else (None, False)


def _found(pair: PairEntry) -> float | None:
    """The room that a setting shows; an overlap counts by its depth, below zero."""
    return -pair.overlap.depth_mm if pair.overlap else pair.least_mm


def _proven(pair: PairEntry) -> float:
    """The room that no setting goes below, as far as that is known."""
    return float("-inf") if pair.proven_mm is None or pair.overlap or pair.swallowed else pair.proven_mm


def _closed_in(pair: PairEntry) -> bool:
    """Whether the room is known to within the run's bracket, or is a depth, which ``_perhaps_deeper`` tells of."""
    return pair.overlap is not None or pair.closed_in


def _perhaps_deeper(pair: PairEntry) -> bool:
    """Whether it was struck, and some setting may show it deeper."""
    return pair.overlap is not None and pair.overlap.at_most_mm is None


def _left_over(pair: PairEntry) -> float | None:
    """The room beyond what is required, as a setting shows it."""
    found = _found(pair)
    return float("-inf") if pair.swallowed else None if found is None else found - pair.required_mm


def _only(
    mine: dict[frozenset[str], PairEntry], others: dict[frozenset[str], PairEntry], *, now: bool
) -> Iterator[PairChange]:
    for names, pair in mine.items():
        if names not in others:
            side = _side(pair)
            before, after = (None, side) if now else (side, None)
            yield PairChange(pair.a, pair.b, None, None, at_least=False, too_much=False, before=before, now=after)


def _side(pair: PairEntry, *, turned_round: bool = False) -> PairSide:
    shapes = (pair.shape_b, pair.shape_a) if turned_round else (pair.shape_a, pair.shape_b)
    return PairSide(
        verdict=compared_verdict(pair.verdict, _left_over(pair)),
        room_mm=_found(pair),
        proven_mm=pair.proven_mm,
        required_mm=pair.required_mm,
        at=pair.at if pair.overlap is None else pair.overlap.at,
        shape_a=shapes[0],
        shape_b=shapes[1],
        swallowed=pair.swallowed,
        closed_in=_closed_in(pair),
        deep_at_most_mm=pair.overlap.at_most_mm if pair.overlap else None,
        constant=pair.constant,
    )


def _what_matters(pair: PairChange) -> tuple[int, bool, float]:
    """By the kind of change; of those that fail or failed the worst first, of the others the least room left."""
    side = pair.before if pair.turn == "passes" else pair.now
    return ORDER.index(pair.turn or "better"), not pair.too_much, _left(side)


def _worst_now(pair: PairChange) -> tuple[int, float]:
    verdict = pair.now.verdict if pair.now else "clear"
    return -RANK[verdict], _left(pair.now)


def _left(side: PairSide | None) -> float:
    return float("-inf") if side is None or side.room_mm is None else side.room_mm - side.required_mm
