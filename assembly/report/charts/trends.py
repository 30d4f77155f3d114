"""What the trend picture shows, picked from the records of runs: the worst pairs, joints, measures of the newest."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from assembly.record import PairEntry, Record
from assembly.report.charts.trend_picture import MOST_LINES, TrendLine, TrendPanel
from assembly.report.text.words import figure, pair_depth, pair_least, short, unit_sign


def trend_panels(records: Sequence[Record]) -> tuple[TrendPanel, TrendPanel]:
    """Room of pairs, reserve of joints and measures over ``records``, oldest first; the newest says which are worst."""
    return (
        TrendPanel(
            title="Pairs of parts with the least margin",
            axis="mm beyond what is required",
            too_low="nearer than required",
            lines=tuple(_pair_lines(records)),
            without="No pair was measured.",
        ),
        TrendPanel(
            title="Joints and measures with the least margin",
            axis="margin in % of the limit",
            too_low="past the limit",
            lines=tuple(_limit_lines(records)),
            without="No joint and no measure has a limit.",
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


@dataclass(frozen=True, slots=True)
class _Limit:
    """What is left of a limit of a joint or a measure, in its unit."""

    name: str
    motion: str
    unit: str
    limit: float
    reserve: float

    @property
    def share(self) -> float:
        """In % of the limit; of a limit of 0 in degrees or mm."""
        return 100 * self.reserve / (abs(self.limit) or 100.0)


def _limits(record: Record) -> dict[tuple[str, str], _Limit]:
    """The limits of joints and measures of which it is known what is left, by name and motion."""
    found = [
        _Limit(joint.name, joint.motion, joint.unit, joint.limit, joint.reserve)
        for joint in record.joints
        if joint.reserve is not None and joint.limit is not None
    ]
    found += [
        _Limit(one.name, side.motion, one.unit, side.limit, side.margin)
        for one in record.measures
        for side in one.sides
        if side.margin is not None
    ]
    return {(one.name, one.motion): one for one in found}


def _limit_lines(records: Sequence[Record]) -> Iterator[TrendLine]:
    known = [_limits(record) for record in records]
    for key, limit in sorted(known[-1].items(), key=lambda entry: entry[1].share)[:MOST_LINES]:
        found = [one.get(key) for one in known]
        values = tuple(None if one is None else one.share for one in found)
        yield TrendLine(f"{limit.name}, {limit.motion}", _limit_now(limit, found[:-1]), values)


def _limit_now(limit: _Limit, earlier: Sequence[_Limit | None]) -> str:
    sign = unit_sign(limit.unit)
    now = figure(limit.reserve, 1)
    before = figure(earlier[-1].reserve, 1) if earlier and earlier[-1] is not None else now
    was = f" (was {before}{sign})" if before != now else ""
    return f"{now}{sign} margin to {short(limit.limit)}{sign}{was}"
