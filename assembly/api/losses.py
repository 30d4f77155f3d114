"""What a change takes from figures that are near their rule: one record of a machine beside another of it changed."""

from __future__ import annotations

from collections.abc import Iterator

from assembly.record import JointEntry, PairEntry, Record, WorseEntry

WORSE = 0.1
"""mm or degrees that a figure must lose to be reported."""
NEAR = 10.0
"""mm or degrees of room above which nobody minds a loss."""


def losses(before: Record, now: Record) -> Iterator[WorseEntry]:
    """Figures that are near their rule and lose by the change."""
    rooms = {frozenset((pair.a, pair.b)): pair.sure_room_mm for pair in before.pairs}
    for pair in now.pairs:
        yield from _loss(_names(pair), "mm", rooms.get(frozenset((pair.a, pair.b))), pair.sure_room_mm)
    reserves = {(joint.name, joint.motion): joint.reserve for joint in before.joints}
    for joint in now.joints:
        yield from _loss(_motion(joint), joint.unit, reserves.get((joint.name, joint.motion)), joint.reserve)
    margins = {(one.name, side.motion): side.margin for one in before.measures for side in one.sides}
    for one in now.measures:
        for side in one.sides:
            what = f"{one.name} ({side.motion})"
            yield from _loss(what, one.unit, margins.get((one.name, side.motion)), side.margin)
    free = {rod.parts: rod.free for rod in before.rods}
    for rod in now.rods:
        yield from _loss(f"roll of {' with '.join(rod.parts)}", "deg", free.get(rod.parts), rod.free)


def _names(pair: PairEntry) -> str:
    return f"{pair.a} – {pair.b}"


def _motion(joint: JointEntry) -> str:
    return f"{joint.name} ({joint.motion})"


def _loss(what: str, unit: str, before: float | None, after: float | None) -> Iterator[WorseEntry]:
    if before is not None and after is not None and after < before - WORSE and after < NEAR:
        yield WorseEntry(what, unit, before, after)
