"""Variants as rows: for a spreadsheet (RFC 4180), and as plain values by the names of the columns."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from io import StringIO

from assembly.printable import table_cell
from assembly.record import VariantEntry, VariantsRecord
from assembly.report.export.spreadsheet import BYTE_ORDER_MARK, lowered, plain_number

BOUNDS = frozenset(("least_mm", "proven_mm", "margin_mm"))
"""Lengths that are never rounded up."""


def variants_sheet(record: VariantsRecord) -> str:
    """A row for each variant under one row of titles; cells of what is not known are empty."""
    text = StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    rows = variant_rows(record)
    writer.writerow(map(table_cell, rows[0]))
    writer.writerows([_cell(name, value) for name, value in row.items()] for row in rows)
    return BYTE_ORDER_MARK + text.getvalue()


def _cell(name: str, value: object) -> str:
    if isinstance(value, float):
        return lowered(value) if name in BOUNDS else plain_number(value)
    return "" if value is None else str(value) if isinstance(value, int) else table_cell(str(value))


def variant_rows(record: VariantsRecord) -> list[dict[str, object]]:
    """Every variant by column, all with the same columns in the same order."""
    rows = [dict(_columns(one, record)) for one in record.entries]
    names = dict.fromkeys(name for row in rows for name in row)
    return [{name: row.get(name) for name in names} for row in rows]


def _columns(entry: VariantEntry, record: VariantsRecord) -> Iterator[tuple[str, object]]:
    yield "variant", entry.number
    yield "name", entry.name
    yield from entry.values.items()
    yield "state", entry.state
    yield "verdict", entry.verdict
    yield "place", _place(entry, record)
    yield from _pair_columns(entry, record)
    first = entry.first_joint
    lost = entry.loses_most
    yield "loses_most", lost and f"{lost.a} – {lost.b}"
    yield "lost_mm", lost and lost.lost_mm
    yield "first_joint", first and first.joint
    yield "first_joint_margin", first and first.reserve
    yield "first_joint_unit", first and first.unit
    yield "stops_verdict", entry.stops_verdict
    for stop in entry.stops:
        yield f"{stop.name} height_mm", stop.height_mm
        yield f"{stop.name} acts from", stop.acts_from
        yield f"{stop.name} acts to", stop.acts_to
    for joint in entry.joints:
        yield f"{joint.name} {joint.motion} least ({joint.unit})", joint.least
        yield f"{joint.name} {joint.motion} most ({joint.unit})", joint.most
    for one in entry.measures:
        yield f"{one.name} at 0 ({one.unit})", one.zero
        yield f"{one.name} least ({one.unit})", one.least
        yield f"{one.name} most ({one.unit})", one.most
        yield f"{one.name} margin ({one.unit})", one.margin
    yield "differs", ", ".join(entry.differs)
    yield "fails_now", "; ".join(" – ".join(pair) for pair in entry.fails_now)
    yield "reason", entry.reason


def _pair_columns(entry: VariantEntry, record: VariantsRecord) -> Iterator[tuple[str, object]]:
    pair = entry.worst
    yield "pair_a", pair and pair.a
    yield "pair_b", pair and pair.b
    yield "required_mm", pair and pair.required_mm
    yield "least_mm", pair.least_mm if pair and (pair.closed_in or pair.depth_mm is not None) else None
    yield "proven_mm", pair and pair.proven_mm
    yield "depth_mm", pair and pair.depth_mm
    yield "margin_mm", entry.margin_mm
    yield "least_change_mm", entry.least_change_mm
    for name, drive in record.drives.items():
        yield f"at {name} ({drive.unit})", pair and pair.at.get(name)


def _place(entry: VariantEntry, record: VariantsRecord) -> str:
    best = record.best
    if best is None or entry.number not in best.rows:
        return ""
    first = "best" if best.verdict == "clear" else "nearest to clear"
    return first if len(best.rows) == 1 else f"{first}, with others alike"
