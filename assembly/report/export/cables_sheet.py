"""Cables as a table for a spreadsheet: every length to cut, and what the motion does to it (RFC 4180)."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from io import StringIO
from pathlib import Path

from assembly.printable import table_cell
from assembly.record import CableEntry, CablesRecord, MeasureEntry, write_whole
from assembly.report.export.spreadsheet import BYTE_ORDER_MARK, plain_number

COLUMNS = ("cable", "what", "verdict", "cut at least", "there is", "at 0", "least", "most", "proven most", "why")


def write_cables(record: CablesRecord, folder: Path) -> Path:
    """Write cables.csv into ``folder``. Raises OutputError."""
    path = folder / "cables.csv"
    write_whole(path, cables_sheet(record))
    return path


def cables_sheet(record: CablesRecord) -> str:
    """A row for each outer, each inner and how far each is pulled; settings of the most in columns of their own."""
    text = StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    drives = [table_cell(f"most at {name} ({drive.unit})") for name, drive in record.drives.items()]
    writer.writerow([*COLUMNS, *drives])
    for cable in record.cables:
        writer.writerows([*row] for row in _rows(cable, record))
    return BYTE_ORDER_MARK + text.getvalue()


def _rows(cable: CableEntry, record: CablesRecord) -> Iterator[Iterator[str]]:
    for run in cable.runs:
        if run.needed is not None:
            yield _row(cable, "outer", run.needed, run.to_cut, run.outer, record)
    if cable.path is None or any(run.hose and run.outer is None for run in cable.runs):
        yield iter((table_cell(cable.name), "inner", "", plain_number(cable.inner_to_cut)))
    else:
        yield _row(cable, "inner", cable.path, cable.inner_to_cut, cable.inner, record)
    if cable.pull is not None:
        yield _row(cable, "pull", cable.pull, None, None, record)


def _row(
    cable: CableEntry, what: str, of: MeasureEntry, least: float | None, there: float | None, record: CablesRecord
) -> Iterator[str]:
    yield from (table_cell(cable.name), what, of.verdict or "")
    yield from map(plain_number, (least, there, of.zero, of.least, of.most, of.proven_most))
    yield table_cell(of.why)
    yield from (plain_number(of.at_most.get(name)) for name in record.drives)
