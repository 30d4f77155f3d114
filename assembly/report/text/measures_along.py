"""Measures along one or two drives, in words: a row for each setting of the first."""

from __future__ import annotations

from collections.abc import Iterator

from assembly.record import MeasuresRecord, MeasureTrack
from assembly.report.text.layout import Block, Heading, Line, Table, Tone
from assembly.report.text.words import figure, setting, signed, unit_sign


def track_blocks(record: MeasuresRecord, track: MeasureTrack) -> Iterator[Block]:
    """One table of all measures along one drive; or one for each measure, its columns the second drive's settings."""
    units = {one.name: unit_sign(one.unit) for one in record.measures}
    held = f", {setting(track.held, record.drives)}" if track.held else ""
    first, *others = track.along
    if not others:
        yield Heading(f"Along {first}{held}")
        columns = (first, *track.values)
        drives = tuple(_drive(at[first], first, record) for at in track.at)
        told = (tuple(_told(value, units[name]) for value in values) for name, values in track.values.items())
        yield Table(columns, tuple(zip(drives, *told, strict=True)), frozenset(columns))
    for name in track.values if others else ():
        yield Heading(f"{name} along {first} (down) and {others[0]} (across){held}")
        yield _crossed(record, track, name, units[name])
    if any(None in values for values in track.values.values()):
        yield Line("–: it has no value there, or the machine does not go there", Tone.QUIET, 1)


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
