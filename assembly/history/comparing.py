"""What changed from one run to another in pairs, joints and rods, reported only if it is known to have changed.

A run closes in on the pairs that come near; of the others it knows that they are clear, and a distance at some setting.
So a change of room counts where both runs closed in on the pair, or where what one run found lies beyond what the other
proved; the least distances found of far pairs say nothing. Of joints and rods, what is left of their limits counts.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import astuple, dataclass, replace
from typing import TypeVar

from assembly.history.figures_compared import changed_figures
from assembly.history.pairs_compared import ORDER, compare_pairs, compared_verdict, turn_of
from assembly.record import (
    Change,
    Comparison,
    JointChange,
    JointEntry,
    JointSide,
    MeasureChange,
    MeasureValues,
    PairChange,
    ReachChange,
    Record,
    RequiredChange,
    RodEntry,
    RunWord,
    ThreadedRodEntry,
    TravelStopEntry,
    TurnWord,
)

SEEN = 0.05
"""Degrees or mm: smallest change of a reserve that is reported; reserves are measured to a tenth."""
ENGAGEMENT = "threads"
"""What is compared of a rod that is screwed together."""
MOVED = 0.02
"""Degrees or mm: smallest change of what a measure comes to that is reported; its ends are known to a hundredth."""
SEEN_KG = 0.005
"""kg: the smallest change of a mass that is reported."""
MotionKey = tuple[str, str, str]
"""Name, motion and unit."""


@dataclass(frozen=True, slots=True)
class JointsCompared:
    """Motions and rolls that changed, sorted, and how many others there are."""

    changed: tuple[JointChange, ...]
    same: int


def compare_joints(before: Record, now: Record) -> JointsCompared:
    """All joints and measures with limits and all rods of both runs."""
    old, new = _sides(before), _sides(now)
    changed, same = [], 0
    for key in dict.fromkeys((*new, *old)):
        change = _change(key, old.get(key), new.get(key))
        if change is None:
            same += 1
        else:
            changed.append(change)
    return JointsCompared(tuple(sorted(changed, key=_what_matters)), same)


def _sides(record: Record) -> dict[MotionKey, JointSide]:
    limited = {
        (joint.name, joint.motion, joint.unit): _joint(joint) for joint in record.joints if joint.limit is not None
    }
    limited |= {(" with ".join(rod.parts), "roll", "deg"): _rod(rod) for rod in record.rods}
    limited |= {
        (one.name, side.motion, one.unit): JointSide(
            compared_verdict(side.verdict, side.margin), side.margin, side.limit, "", side.at
        )
        for one in record.measures
        for side in one.sides
    }
    return limited | {(rod.name, ENGAGEMENT, "mm"): _threads(rod) for rod in record.threads if rod.verdict is not None}


def _joint(joint: JointEntry) -> JointSide:
    verdict = joint.verdict and compared_verdict(joint.verdict, joint.reserve)
    return JointSide(verdict, joint.reserve, joint.limit, joint.limiter, joint.at)


def _rod(rod: RodEntry) -> JointSide:
    return JointSide(compared_verdict(rod.verdict, rod.free), rod.free, None, "", rod.at)


def _threads(rod: ThreadedRodEntry) -> JointSide:
    """What is in of a rod's threads beyond the rule that asks for most; no margin where it only must be captive."""
    asked = [(rule.margin_mm, rule.required_mm) for end in rod.ends for rule in end.rules if rule.margin_mm is not None]
    margin, required = min(asked, default=(None, None))
    return JointSide(rod.verdict, margin, required, "", {})


def _change(key: MotionKey, old: JointSide | None, new: JointSide | None) -> JointChange | None:
    """A limit that is new counts only once it fails; one that was taken away is always told."""
    if old is None or new is None:
        turn: TurnWord | None = "fails" if new is not None and new.verdict == "fails" else None
        return JointChange(*key, turn, None, old, new)
    change = None
    if old.reserve is not None and new.reserve is not None and abs(new.reserve - old.reserve) >= SEEN:
        change = new.reserve - old.reserve
    turn = turn_of(old.verdict or "clear", new.verdict or "clear", change)
    if turn is None and old.limit == new.limit:
        return None
    return JointChange(*key, turn, change, old, new)


def _what_matters(joint: JointChange) -> tuple[int, float]:
    rank = len(ORDER) if joint.turn is None else ORDER.index(joint.turn)
    side = joint.now or joint.before
    return rank, float("-inf") if side is None or side.reserve is None else side.reserve


SHRANK_MM = 0.5
"""A clearance may lose this much from one run to the next before the later one counts as worse."""

Entry = TypeVar("Entry")


def compare(before: Record, now: Record, *, shrank_mm: float, told: tuple[str, str] = ("before", "now")) -> Comparison:
    """What is not the same; shrinking by more than ``shrank_mm`` is too much. ``told``: how to name the runs."""
    pairs = compare_pairs(before, now, shrank_mm)
    joints = compare_joints(before, now)
    reach = _reach(before, now)
    turns = [pair.turn for pair in pairs.changed] + [joint.turn for joint in joints.changed]
    turns += [reach.turn] if reach else []
    new_failing = any(pair.now is not None and pair.now.verdict == "fails" for pair in pairs.new)
    details = before.parts and now.parts
    return Comparison(
        before=_word(before, told[0]),
        now=_word(now, told[1]),
        shrank_mm=shrank_mm,
        worse="fails" in turns or new_failing or any(pair.too_much for pair in pairs.changed),
        opened=turns.count("open"),
        pairs=pairs.changed,
        new_pairs=pairs.new,
        gone_pairs=tuple(_with_reason(pair, now) for pair in pairs.gone),
        joints=joints.changed,
        reach=reach,
        required=_required(before, now),
        dimensions=tuple(_unlike(before.dimensions, now.dimensions)) if details else (),
        stops=tuple(_unlike(_stops(before), _stops(now))),
        drives={**before.drives, **now.drives},
        ranges=tuple(_unlike(before.drives, now.drives)),
        parts=tuple(_unlike(before.parts, now.parts)) if details else (),
        files=tuple(_unlike(_mesh_files(before), _mesh_files(now))),
        same_pairs=pairs.same,
        vague_pairs=pairs.vague,
        same_joints=joints.same,
        no_details=not details,
        measures=tuple(_measures(before, now)),
        weights=tuple(_weights(before, now)),
        figures=tuple(changed_figures(before, now)),
    )


def _weights(before: Record, now: Record) -> Iterator[Change[float]]:
    """The mass of all together, then of each part, where it is another."""
    old, new = before.weight, now.weight
    if old is None or new is None:
        return
    was, is_ = ({"all together": one.mass_kg, **one.parts} for one in (old, new))
    for change in _unlike(was, is_):
        if abs((change.now or 0.0) - (change.before or 0.0)) >= SEEN_KG:
            yield change


def _word(record: Record, told: str) -> RunWord:
    machine = record.machine
    return RunWord(
        told=told,
        name=machine.name,
        file=machine.file,
        made=record.made,
        version=record.program.version,
        verdict=record.verdict,
        reason=record.reason,
        digest=machine.digest,
    )


def _unlike(before: Mapping[str, Entry], now: Mapping[str, Entry]) -> Iterator[Change[Entry]]:
    """One change for each name whose entry is not the same, in the order in which the files have them."""
    for name in dict.fromkeys((*now, *before)):
        if before.get(name) != now.get(name):
            yield Change(name, before.get(name), now.get(name))


def _stops(record: Record) -> dict[str, TravelStopEntry]:
    return {stop.name: stop for stop in record.stops}


def _mesh_files(record: Record) -> dict[str, str]:
    """Digests by the file's own name: the same file seen from another folder is the same."""
    machine = record.machine
    return {name.rpartition("/")[2]: digest for name, digest in machine.digests.items() if name != machine.file}


def _measures(before: Record, now: Record) -> Iterator[MeasureChange]:
    """What measures come to, where that changed by so much that it is known."""
    units = {one.name: one.unit for one in (*now.measures, *before.measures)}
    values = [
        {one.name: MeasureValues(one.zero, one.least, one.most) for one in record.measures} for record in (before, now)
    ]
    for name, unit in units.items():
        old, new = (each.get(name) for each in values)
        if old is None or new is None or any(map(_moved, astuple(old), astuple(new))):
            yield MeasureChange(name, unit, old, new)


def _moved(old: float | None, new: float | None) -> bool:
    return (old is None) != (new is None) or (old is not None and new is not None and abs(new - old) >= MOVED)


def _required(before: Record, now: Record) -> tuple[RequiredChange, ...]:
    old = {frozenset((pair.a, pair.b)): pair.required_mm for pair in before.pairs}
    asked = Counter(
        (was, pair.required_mm)
        for pair in now.pairs
        if (was := old.get(frozenset((pair.a, pair.b)))) is not None and was != pair.required_mm
    )
    return tuple(RequiredChange(was, is_, count) for (was, is_), count in asked.most_common())


def _with_reason(gone: PairChange, now: Record) -> PairChange:
    """Why a pair is not checked any more."""
    for name in (gone.a, gone.b):
        if now.parts and name not in now.parts:
            return replace(gone, why=f"{name} is gone")
    reasons = {frozenset((left.a, left.b)): left.reason for left in now.not_checked}
    return replace(gone, why=reasons.get(frozenset((gone.a, gone.b)), "not in the record"))


def _reach(before: Record, now: Record) -> ReachChange | None:
    was, is_ = (any(place.missed for place in record.unreachable) for record in (before, now))
    shares = before.unreachable_share, now.unreachable_share
    turn: TurnWord | None = None
    if was != is_:
        turn = "fails" if is_ else "passes"
    elif bool(before.unreachable) != bool(now.unreachable):
        turn = "open" if now.unreachable else "passes"
    elif shares[0] != shares[1]:
        turn = "worse" if shares[1] > shares[0] else "better"
    return ReachChange(turn, *shares) if turn else None
