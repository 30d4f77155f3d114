"""A result in few lines, for a prompt and for a notebook."""

from __future__ import annotations

from collections.abc import Iterator
from html import escape
from typing import TYPE_CHECKING

from assembly.report.text.sweep_text import NOT_CLOSED_IN
from assembly.report.text.words import below, millimetres, pair_depth, pair_least, setting, short

if TYPE_CHECKING:
    from assembly.record import PairEntry, Record

SHOWN = 5
"""Pairs that are shown; all are in ``pairs``."""
COLUMNS = ("pair", "least", "proven", "required", "at", "verdict")


def short_text(record: Record) -> str:
    """Verdict, reason and the nearest pairs, a line each."""
    head = f"{record.machine.name}: {record.verdict.upper()}, {record.reason}"
    return "\n".join([head, *("  " + ", ".join(_line(row)) for row in _rows(record)), *_left(record, "  ")])


def html_table(record: Record) -> str:
    """The same as a table; every text of the file is escaped."""
    head = "".join(f"<th>{name}</th>" for name in COLUMNS)
    rows = "".join(f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in row)}</tr>" for row in _rows(record))
    title = f"<b>{escape(record.machine.name)}: {record.verdict.upper()}</b>, {escape(record.reason)}"
    more = "".join(f"<p>{line}</p>" for line in _left(record, ""))
    return f"<p>{title}</p><table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>{more}"


def _rows(record: Record) -> Iterator[tuple[str, ...]]:
    for pair in record.pairs[:SHOWN]:
        proven = "–" if pair.proven_mm is None else millimetres(below(pair.proven_mm))
        yield (
            f"{pair.a} – {pair.b}",
            _least(pair),
            proven,
            f"{short(pair.required_mm)} mm",
            setting(pair.at, record.drives) if pair.closed_in or pair.verdict != "clear" else NOT_CLOSED_IN,
            pair.verdict,
        )


def _least(pair: PairEntry) -> str:
    if pair.overlap is not None:
        return f"{pair_depth(pair.overlap)} mm deep"
    return "–" if pair.least_mm is None else f"{pair_least(pair)} mm"


def _line(row: tuple[str, ...]) -> tuple[str, ...]:
    pair, least, proven, required, at, verdict = row
    return f"{pair}: {least}", f"proven {proven}", f"required {required}", f"at {at}", verdict


def _left(record: Record, indent: str) -> list[str]:
    left = len(record.pairs) - SHOWN
    return [f"{indent}and {left} more in .pairs"] if left > 0 else []
