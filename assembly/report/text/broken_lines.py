"""Blocks as lines that keep within a width: sentences broken between words, rows of tables continued below."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

from assembly.report.text.layout import Block, Heading, Line, Table, visible_block

STEP = "  "
GAP = "  "


def lines_at(block: Block, width: int) -> Iterator[str]:
    """``block`` as lines of at most ``width`` signs; longer ones are whole by intent, or one word."""
    block = visible_block(block)
    if isinstance(block, Heading):
        yield ""
        yield from _broken(Line(block.text), width)
    elif isinstance(block, Line):
        yield from _broken(block, width)
    else:
        for row in table_rows(block, width):
            yield from row


def _broken(line: Line, width: int) -> list[str]:
    indent = STEP * line.indent
    if line.whole:
        return [indent + line.text]
    later = indent + STEP
    return textwrap.wrap(
        line.text, width, initial_indent=indent, subsequent_indent=later, break_long_words=False, break_on_hyphens=False
    ) or [""]


def table_rows(table: Table, width: int) -> Iterator[list[str]]:
    """The lines of each row, that of the columns' names first.

    Columns that do not fit side by side, from the right, are reported by name in lines of their own below each row.
    """
    rows = [table.columns, *table.rows]
    widths = [max(len(row[column]) for row in rows) for column in range(len(table.columns))]
    kept = _side_by_side(widths, width)
    right = [name in table.figures for name in table.columns]
    for row in rows:
        cells = [
            text.rjust(size) if to_right else text.ljust(size)
            for text, size, to_right in zip(row[:kept], widths[:kept], right[:kept], strict=True)
        ]
        below = [] if row is table.columns else _continued(table.columns[kept:], row[kept:], width)
        yield [(STEP + GAP.join(cells)).rstrip(), *below]


def _side_by_side(widths: Sequence[int], width: int) -> int:
    """How many columns fit beside each other, at least the first."""
    fitting = 1
    while fitting < len(widths) and len(STEP) + sum(widths[: fitting + 1]) + fitting * len(GAP) <= width:
        fitting += 1
    return fitting


def _continued(columns: Sequence[str], cells: Sequence[str], width: int) -> list[str]:
    told = [f"{name.strip()}: {cell}" for name, cell in zip(columns, cells, strict=True) if cell]
    return _broken(Line("; ".join(told), indent=2), width) if told else []
