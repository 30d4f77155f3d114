"""A spread as a table for a spreadsheet: a row for each figure, with what each dimension takes (RFC 4180)."""

from __future__ import annotations

import csv
from io import StringIO

from assembly.printable import table_cell
from assembly.record import SpreadFigureEntry, SpreadRecord
from assembly.report.export.spreadsheet import BYTE_ORDER_MARK, plain_number

FIGURES = ("margin as drawn", "proven", "shown", "by slopes", "root of squares", "shift of the middle")
SAMPLED = ("mean", "deviation", "deviation from", "deviation to", "broken", "broken from", "broken to", "machines")


def spread_sheet(record: SpreadRecord) -> str:
    """One row for each figure; one column for each dimension, with what it takes at its worse end."""
    text = StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    takes = [table_cell(f"{one.name} takes") for one in record.tolerances]
    writer.writerow(["kind", "figure", "motion", "unit", "verdict", *FIGURES, *SAMPLED, *takes, "why"])
    writer.writerows(_row(one, record) for one in record.figures)
    return BYTE_ORDER_MARK + text.getvalue()


def _row(one: SpreadFigureEntry, record: SpreadRecord) -> list[str]:
    taken = {share.dimension: share.takes for share in one.shares if share.slope is not None}
    known = one.sampled
    sampled = (
        (None,) * len(SAMPLED)
        if known is None
        else (
            *(known.mean, known.deviation, known.deviation_low, known.deviation_high),
            *(known.broken, known.broken_low, known.broken_high, float(known.machines)),
        )
    )
    figures = one.nominal, one.proven, one.shown, one.by_slopes, one.root_sum, one.middle
    return [
        one.kind,
        table_cell(" - ".join(one.names)),
        one.motion,
        one.unit,
        one.verdict or "",
        *map(plain_number, figures),
        *map(plain_number, sampled),
        *(plain_number(taken.get(each.name, 0.0)) for each in record.tolerances),
        table_cell(one.why),
    ]
