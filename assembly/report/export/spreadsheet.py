"""A record as a table for a spreadsheet: one row for each pair, lengths as plain numbers (RFC 4180)."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from io import StringIO
from math import ceil, floor

from assembly.printable import table_cell
from assembly.record import PairEntry, Point, Record

LENGTHS = ("required_mm", "least_mm", "proven_mm", "margin_mm", "depth_mm", "depth_at_most_mm")
POINTS = tuple(f"point_{which}_{axis}" for which in "ab" for axis in "xyz")
COLUMNS = ("machine", "a", "b", "shape_a", "shape_b", "verdict", *LENGTHS, "closed_in", "seen_mm", "why", *POINTS)
"""Then one column for each drive: its setting that shows ``seen_mm``, the smallest distance that any setting did.

That is the least only where it was closed in on; elsewhere the columns of the least and of the margin are empty.
"""
DIGITS = 4
"""Of lengths and settings, after the point."""
BYTE_ORDER_MARK = "\ufeff"
"""Without it spreadsheets guess at the letters of names."""


def pairs_table(record: Record) -> str:
    """The pairs in the record's order, least margin first, under one row of titles."""
    text = StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    drives = [table_cell(f"at {name} ({drive.unit})") for name, drive in record.drives.items()]
    writer.writerow([*COLUMNS, *drives])
    writer.writerows(list(_row(pair, record)) for pair in record.pairs)
    return BYTE_ORDER_MARK + text.getvalue()


def _row(pair: PairEntry, record: Record) -> Iterator[str]:
    names = record.machine.name, pair.a, pair.b, pair.shape_a, pair.shape_b, pair.verdict
    yield from map(table_cell, names)
    yield plain_number(pair.required_mm)
    sure = pair.closed_in or pair.overlap is not None
    yield from map(lowered, (pair.least_mm if sure else None, pair.proven_mm, pair.room_mm if sure else None))
    yield plain_number(pair.overlap.depth_mm if pair.overlap else None)
    yield _raised(pair.overlap.at_most_mm if pair.overlap else None)
    yield "yes" if sure else "no"
    yield plain_number(pair.least_mm)
    yield table_cell(pair.why)
    for point in (pair.point_a, pair.point_b):
        yield from _coordinates(point)
    for drive in record.drives:
        yield plain_number(pair.at.get(drive))


def _coordinates(point: Point | None) -> Iterator[str]:
    yield from map(plain_number, point or (None, None, None))


def lowered(value: float | None) -> str:
    """A clearance: never rounded up, but for a millionth of a millimetre of arithmetic."""
    return plain_number(None if value is None else floor((value + 1e-6) * 10**DIGITS) / 10**DIGITS)


def _raised(value: float | None) -> str:
    """A bound from above: never rounded down, but for a millionth of a millimetre of arithmetic."""
    return plain_number(None if value is None else ceil((value - 1e-6) * 10**DIGITS) / 10**DIGITS)


def plain_number(value: float | None) -> str:
    """A number as a cell: never in powers of ten, nothing if there is nothing."""
    if value is None:
        return ""
    return f"{value:z.{DIGITS}f}".rstrip("0").rstrip(".")
