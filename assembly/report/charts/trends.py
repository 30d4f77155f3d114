"""What the trend picture shows, picked from the records of runs: the worst pairs and joints of the newest run."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime

from assembly.record import JointEntry, PairEntry, Record
from assembly.report.charts.trend_picture import MOST_LINES, TrendLine, TrendPanel
from assembly.report.text.words import figure, pair_depth, pair_least, short, unit_sign


def trend_panels(records: Sequence[Record]) -> tuple[TrendPanel, TrendPanel]:
    """Room of pairs and reserve of joints over ``records``, oldest first; the newest says which are the worst."""
    return (
        TrendPanel(
            title="Pairs of parts with the least margin",
            axis="mm beyond what is required",
            too_low="nearer than required",
            lines=tuple(_pair_lines(records)),
            without="No pair was measured.",
        ),
        TrendPanel(
            title="Joints with the least margin",
            axis="margin in % of the limit",
            too_low="past the limit",
            lines=tuple(_joint_lines(records)),
            without="No joint has a limit.",
        ),
    )


def run_labels(records: Sequence[Record]) -> list[str]:
    """Date and time at which each record was made, as the clock of this place shows it."""
    return [datetime.fromisoformat(record.made).astimezone().strftime("%Y-%m-%d\n%H:%M") for record in records]


def _pair_lines(records: Sequence[Record]) -> Iterator[TrendLine]:
    by_pair = [{(pair.a, pair.b): pair for pair in record.pairs} for record in records]
    for pair in [pair for pair in records[-1].pairs if _room(pair) is not None][:MOST_LINES]:
        found = [one.get((pair.a, pair.b)) for one in by_pair]
        values = tuple(None if one is None else _room(one) for one in found)
        yield TrendLine(f"{pair.a} – {pair.b}", _pair_now(pair, found[:-1]), values)


def _room(pair: PairEntry) -> float | None:
    """The room, a gap in the line where it was not closed in on."""
    return pair.room_mm if pair.closed_in or pair.overlap is not None else None


def _pair_now(pair: PairEntry, earlier: Sequence[PairEntry | None]) -> str:
    now, required = _least(pair), f"{short(pair.required_mm)} mm required"
    old = (earlier[-1] if earlier else None) or pair
    before, asked = _least(old), f"{short(old.required_mm)} mm required"
    was = [text for text, as_now in ((before, now), (asked, required)) if text != as_now]
    return f"{now}, {required}" + (f" (was {', '.join(was)})" if was else "")


def _least(pair: PairEntry) -> str:
    if pair.overlap is not None:
        return f"{pair_depth(pair.overlap)} mm deep in"
    return "not measured" if pair.least_mm is None else f"{pair_least(pair)} mm"


def _joint_lines(records: Sequence[Record]) -> Iterator[TrendLine]:
    by_joint = [{(joint.name, joint.motion): joint for joint in record.joints} for record in records]
    limited = [(share, joint) for joint in records[-1].joints if (share := _share(joint)) is not None]
    for _, joint in sorted(limited, key=lambda entry: entry[0])[:MOST_LINES]:
        found = [one.get((joint.name, joint.motion)) for one in by_joint]
        values = tuple(None if one is None else _share(one) for one in found)
        yield TrendLine(f"{joint.name}, {joint.motion}", _joint_now(joint, found[:-1]), values)


def _share(joint: JointEntry) -> float | None:
    """Reserve in % of the limit; of a limit of 0 in degrees or mm."""
    if joint.reserve is None or joint.limit is None:
        return None
    return 100 * joint.reserve / (abs(joint.limit) or 100.0)


def _joint_now(joint: JointEntry, earlier: Sequence[JointEntry | None]) -> str:
    sign = unit_sign(joint.unit)
    now = _left(joint)
    before = _left(earlier[-1]) if earlier and earlier[-1] is not None else now
    was = f" (was {before}{sign})" if before != now else ""
    return f"{now}{sign} margin to {short(joint.limit or 0.0)}{sign}{was}"


def _left(joint: JointEntry) -> str:
    return "–" if joint.reserve is None else figure(joint.reserve, 1)
