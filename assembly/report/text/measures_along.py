"""Measures along one or two drives, in words: a row for each setting of the first."""

from __future__ import annotations

from collections.abc import Iterator

from assembly.record import MeasuresRecord, MeasureTrack
from assembly.report.text.layout import Block, Heading, Line, Table, Tone
from assembly.report.text.words import count, figure, setting, signed, unit_sign

MOST_COLUMNS = 4
"""Measures in one table: more do not fit beside each other."""


def track_blocks(record: MeasuresRecord, track: MeasureTrack) -> Iterator[Block]:
    """One table of all measures along one drive; or one for each measure, its columns the second drive's settings."""
    units = {one.name: unit_sign(one.unit) for one in record.measures}
    held = f", {setting(track.held, record.drives)}" if track.held else ""
    first, *others = track.along
    if not others:
        names = _in_order(record, track)
        drives = tuple(_drive(at[first], first, record) for at in track.at)
        for start in range(0, len(names), MOST_COLUMNS):
            shown = names[start : start + MOST_COLUMNS]
            if start <= MOST_COLUMNS:
                aside = f"{count(len(names) - start, 'more measure')} along {first}, in measures.csv" if start else ""
                yield Heading(f"Along {first}{held}{', more measures' if start else ''}", aside=aside)
            columns = (first, *shown)
            told = (tuple(_told(value, units[name]) for value in track.values[name]) for name in shown)
            yield Table(columns, tuple(zip(drives, *told, strict=True)), frozenset(columns))
    for name in track.values if others else ():
        yield Heading(f"{name} along {first} (down) and {others[0]} (across){held}")
        yield _crossed(record, track, name, units[name])
    if any(None in values for values in track.values.values()):
        yield Line("–: it has no value there, or the machine does not go there", Tone.QUIET, 1)


def _in_order(record: MeasuresRecord, track: MeasureTrack) -> list[str]:
    """The measures as they are; where one table has no place for all, those first that have limits and move most."""
    if len(track.values) <= MOST_COLUMNS:
        return list(track.values)
    limited = {one.name for one in record.measures if one.limit_low is not None or one.limit_high is not None}

    def rank(name: str) -> tuple[bool, float]:
        known = [value for value in track.values[name] if value is not None]
        return name not in limited, min(known, default=0.0) - max(known, default=0.0)

    return sorted(track.values, key=rank)


def _crossed(record: MeasuresRecord, track: MeasureTrack, name: str, sign: str) -> Table:
    first, second = track.along
    down, across = (list(dict.fromkeys(at[drive] for at in track.at)) for drive in (first, second))
    values = iter(track.values[name])
    columns = tuple(_drive(there, second, record) for there in across)
    rows = tuple((_drive(here, first, record), *(_told(next(values), sign) for _ in across)) for here in down)
    return Table((first, *columns), rows, frozenset((first, *columns)))


def _drive(value: float, name: str, record: MeasuresRecord) -> str:
    return f"{signed(value)}{unit_sign(record.drives[name].unit)}"


def _told(value: float | None, sign: str) -> str:
    return "–" if value is None else f"{figure(value)}{sign}"
