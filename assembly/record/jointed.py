"""Joints and rods as entries of the record, each with its verdict: an end of a rod that rolls shares in the rod's."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from assembly.record.common import settings_of
from assembly.record.joint_entries import FirstOutEntry, HalfEntry, JointEntry, RodEntry
from assembly.record.values import VerdictWord

if TYPE_CHECKING:
    from assembly.model.machine import Machine
    from assembly.studies.joint_ranges import JointRange, JointRanges
    from assembly.studies.rod_rolls import RodRoll


def joint_entries(machine: Machine, joints: JointRanges, rods: Sequence[RodRoll]) -> tuple[JointEntry, ...]:
    """Every motion of every joint."""
    of_rod = {end: rod for rod in rods for end in rod.ends}
    return tuple(_joint(machine, moved, of_rod.get(moved.joint.name)) for moved in joints.ranges)


def _joint(machine: Machine, moved: JointRange, rod: RodRoll | None) -> JointEntry:
    (low, high), (left_low, left_high) = moved.limits, moved.reserves
    downward = left_low is not None and left_low == moved.reserve
    at_least, at_most = (settings_of(machine, at) for at in (moved.at_least, moved.at_most))
    return JointEntry(
        name=moved.joint.name,
        kind=moved.joint.kind.value,
        motion=moved.motion,
        first=moved.joint.first,
        second=moved.joint.second,
        unit=moved.unit,
        least=moved.least,
        most=moved.most,
        at_least=at_least,
        at_most=at_most,
        proven_least=moved.proven_least,
        proven_most=moved.proven_most,
        limit=low if downward else high,
        reserve=moved.reserve,
        at=at_least if downward else at_most,
        limit_low=low,
        limit_high=high,
        reserve_low=left_low,
        reserve_high=left_high,
        limiter=moved.limiter,
        spent=moved.spent,
        rolls=moved.rolls,
        roll=moved.roll,
        verdict=_verdict(moved, rod),
        best_roll=moved.best_roll,
        halves=tuple(
            HalfEntry(half.drive, half.direction, half.reserve, half.share, settings_of(machine, half.at))
            for half in moved.halves
        ),
    )


def _verdict(moved: JointRange, rod: RodRoll | None) -> VerdictWord | None:
    """What is proven of the joint itself; else, of an end whose rod can roll, what is known of the rod."""
    own = moved.verdict
    if own is None:
        return None
    return own.value if own.value != "undecided" or rod is None else rod.verdict.value


def rod_entries(machine: Machine, joints: JointRanges, rods: Sequence[RodRoll]) -> tuple[RodEntry, ...]:
    """Every rod that rolls. Where each end is proven to keep its limit at one roll, that proves the rod as well."""
    kept = {moved.joint.name for moved in joints.ranges if moved.verdict is not None and moved.verdict.value == "clear"}
    return tuple(
        RodEntry(
            parts=rod.parts,
            ends=rod.ends,
            settings=rod.settings,
            free=rod.free,
            at=settings_of(machine, rod.at),
            common_roll=rod.common_roll,
            common_room=rod.common_room,
            first_out=rod.first_out,
            left=rod.left,
            clocking=rod.clocking,
            clocked_free=rod.clocked_free,
            verdict="clear" if kept.issuperset(rod.ends) else rod.verdict.value,
        )
        for rod in rods
    )


def first_out_entries(machine: Machine, joints: JointRanges) -> tuple[FirstOutEntry, ...]:
    """Which joint runs out first, for each drive and direction."""
    return tuple(
        FirstOutEntry(
            drive=half.drive,
            direction=half.direction,
            joint=moved.joint.name,
            motion=moved.motion,
            unit=moved.unit,
            limit=half.limit,
            reserve=half.reserve,
            at=settings_of(machine, half.at),
        )
        for half, moved in joints.first_out
    )
