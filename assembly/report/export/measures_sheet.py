"""Measures as a table for a spreadsheet: what each comes to over the range, or all of them along drives (RFC 4180)."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from io import StringIO

from assembly.printable import table_cell
from assembly.record import MeasureEntry, MeasuresRecord, MeasureTrack
from assembly.report.export.spreadsheet import BYTE_ORDER_MARK, plain_number

FIGURES = ("at 0", "least", "proven least", "most", "proven most", "limit least", "limit most", "margin")


def measures_sheet(record: MeasuresRecord) -> str:
    """A row for each measure; or one for each setting, where measures were told along drives."""
    text = StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerows(_along(record, record.track) if record.track else _over_range(record))
    return BYTE_ORDER_MARK + text.getvalue()


def _along(record: MeasuresRecord, track: MeasureTrack) -> Iterator[list[str]]:
    units = {one.name: one.unit for one in record.measures}
    drives = [table_cell(f"{name} ({drive.unit})") for name, drive in record.drives.items()]
    yield [*drives, *(table_cell(f"{name} ({units[name]})") for name in track.values)]
    for row, at in enumerate(track.at):
        settings = [plain_number(at[name]) for name in record.drives]
        yield [*settings, *(plain_number(values[row]) for values in track.values.values())]


def _over_range(record: MeasuresRecord) -> Iterator[list[str]]:
    drives = [f"{end} at {name} ({drive.unit})" for end in ("least", "most") for name, drive in record.drives.items()]
    yield ["measure", "unit", "verdict", *FIGURES, *map(table_cell, drives), "why"]
    for one in record.measures:
        yield [
            table_cell(one.name),
            one.unit,
            one.verdict or "",
            *_figures(one),
            *_at(one, record),
            table_cell(one.why),
        ]


def _figures(one: MeasureEntry) -> Iterator[str]:
    yield from map(plain_number, (one.zero, one.least, one.proven_least, one.most, one.proven_most))
    yield from map(plain_number, (one.limit_low, one.limit_high, one.margin))


def _at(one: MeasureEntry, record: MeasuresRecord) -> Iterator[str]:
    for end in (one.at_least, one.at_most):
        yield from (plain_number(end.get(name)) for name in record.drives)
