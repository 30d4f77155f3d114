"""One variant of a machine: what its sweep, and its stops where they are asked for, come to in a row."""

from __future__ import annotations

from collections.abc import Mapping

from assembly.record import (
    FirstOutEntry,
    JointEntry,
    MeasureEntry,
    PairEntry,
    Record,
    StopEntry,
    StopsRecord,
    VariantEntry,
    VariantJointEntry,
    VariantMeasureEntry,
    VariantPairEntry,
    VariantStopEntry,
)


def variant_row(values: Mapping[str, float], record: Record, stops: StopsRecord | None) -> VariantEntry:
    """The row of a swept variant; it has no number yet. ``values`` are those that it was made with, by name."""
    return VariantEntry(
        number=0,
        values=dict(values),
        state="swept",
        verdict=record.verdict,
        reason=record.reason,
        margin_mm=_margin(record),
        pairs=tuple(_pair(pair) for pair in record.pairs if pair.closed_in or pair.verdict != "clear")
        or tuple(_pair(pair) for pair in record.pairs[:1]),
        first_joint=min(record.first_out, key=_share, default=None),
        joints=tuple(map(_joint, record.joints)),
        measures=tuple(map(_measure, record.measures)),
        rolls={" with ".join(rod.parts): rod.free for rod in record.rods},
        stops=tuple(map(_stop, stops.stops)) if stops else (),
        stops_verdict=stops.verdict if stops else None,
        stops_reason=stops.reason if stops else "",
    )


def _margin(record: Record) -> float | None:
    """What is proven of every pair beyond what it must keep, mm; None where nothing is proven of one."""
    proven = [None if pair.proven_mm is None else pair.proven_mm - pair.required_mm for pair in record.pairs]
    known = [one for one in proven if one is not None]
    return min(known) if known and len(known) == len(proven) else None


def _share(first: FirstOutEntry) -> float:
    """Of its limit, what a joint has left."""
    return first.reserve / abs(first.limit) if first.limit else first.reserve


def _pair(pair: PairEntry) -> VariantPairEntry:
    return VariantPairEntry(
        a=pair.a,
        b=pair.b,
        required_mm=pair.required_mm,
        least_mm=pair.least_mm,
        proven_mm=pair.proven_mm,
        depth_mm=pair.overlap.depth_mm if pair.overlap else None,
        at=pair.at,
        verdict=pair.verdict,
        closed_in=pair.closed_in,
    )


def _joint(joint: JointEntry) -> VariantJointEntry:
    return VariantJointEntry(
        joint.name, joint.motion, joint.unit, joint.least, joint.most, joint.reserve, joint.verdict
    )


def _measure(one: MeasureEntry) -> VariantMeasureEntry:
    return VariantMeasureEntry(one.name, one.unit, one.zero, one.least, one.most, one.margin, one.verdict)


def _stop(stop: StopEntry) -> VariantStopEntry:
    acts = stop.acts
    height = stop.height_mm if stop.height_mm is not None else stop.recommended_mm
    first, last = (acts.first, acts.last) if acts else (None, None)
    return VariantStopEntry(stop.name, stop.drive, stop.side, height, first, last)
