"""Joints and rods of two runs beside each other: what is left of their limits, more or less than before."""

from __future__ import annotations

from dataclasses import dataclass

from assembly.history.pairs_compared import ORDER, compared_verdict, turn_of
from assembly.record import (
    JointChange,
    JointEntry,
    JointSide,
    Record,
    RodEntry,
    TurnWord,
)

SEEN = 0.05
"""Degrees or mm: smallest change of a reserve that is reported; reserves are measured to a tenth."""
MotionKey = tuple[str, str, str]
"""Name, motion and unit."""


@dataclass(frozen=True, slots=True)
class JointsCompared:
    """Motions and rolls that changed, sorted, and how many others there are."""

    changed: tuple[JointChange, ...]
    same: int


def compare_joints(before: Record, now: Record) -> JointsCompared:
    """All joints with limits and all rods of both runs."""
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
    return limited | {(" with ".join(rod.parts), "roll", "deg"): _rod(rod) for rod in record.rods}


def _joint(joint: JointEntry) -> JointSide:
    verdict = joint.verdict and compared_verdict(joint.verdict, joint.reserve)
    return JointSide(verdict, joint.reserve, joint.limit, joint.limiter, joint.at)


def _rod(rod: RodEntry) -> JointSide:
    return JointSide(compared_verdict(rod.verdict, rod.free), rod.free, None, "", rod.at)


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
