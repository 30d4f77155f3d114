"""Blocks onto a stream: plain text that reads without colour, or by rich where the stream is a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, TextIO

from assembly.printable import visible
from assembly.progress import Progress
from assembly.report.text.layout import Block, Heading, Line, Table, Tone, visible_block

if TYPE_CHECKING:
    from rich.console import Console
    from rich.progress import Progress as Bars

STYLES = {
    Tone.PLAIN: "",
    Tone.GOOD: "bold green",
    Tone.BAD: "bold red",
    Tone.OPEN: "bold yellow",
    Tone.QUIET: "dim",
}
WIDTH = 110
"""Plain sentences are broken at this width; tables never are, so that programs can read their rows."""
SPELLED = str.maketrans({"−": "-", "–": "-", "°": " deg", "×": "x", "…": "...", "³": "3"})
"""How the signs of a report are spelled where they cannot be shown."""
STEP = "  "
GAP = "  "


def write(blocks: Iterable[Block], stream: TextIO) -> None:
    """Write ``blocks`` and flush."""
    if stream.isatty() and _shows_signs(stream):
        _write_rich(blocks, stream)
    else:
        signs = {} if _shows_signs(stream) else SPELLED
        for block in blocks:
            for line in plain_lines(block):
                stream.write(f"{line.translate(signs)}\n")
    stream.flush()


def _shows_signs(stream: TextIO) -> bool:
    """Whether the signs of a report can be written to ``stream``; a minus must never get lost."""
    try:
        "".join(map(chr, SPELLED)).encode(getattr(stream, "encoding", None) or "utf-8")
    except UnicodeEncodeError:
        return False
    return True


def plain_text(blocks: Iterable[Block]) -> str:
    """``blocks`` as the text of a file."""
    return "".join(f"{line}\n" for block in blocks for line in plain_lines(block))


def plain_lines(block: Block) -> Iterator[str]:
    """``block`` as lines of plain text."""
    block = visible_block(block)
    if isinstance(block, Heading):
        yield ""
        yield block.text
    elif isinstance(block, Line):
        yield from _broken(block, WIDTH)
    else:
        yield from _table_lines(block)


def _broken(line: Line, width: int) -> list[str]:
    indent = STEP * line.indent
    if line.whole:
        return [indent + line.text]
    later = indent + STEP
    return textwrap.wrap(
        line.text, width, initial_indent=indent, subsequent_indent=later, break_long_words=False, break_on_hyphens=False
    ) or [""]


def _table_lines(table: Table) -> Iterator[str]:
    rows = [table.columns, *table.rows]
    widths = [max(len(row[column]) for row in rows) for column in range(len(table.columns))]
    right = [name in table.figures for name in table.columns]
    for row in rows:
        cells = [
            text.rjust(width) if to_right else text.ljust(width)
            for text, width, to_right in zip(row, widths, right, strict=True)
        ]
        yield (STEP + GAP.join(cells)).rstrip()


def _write_rich(blocks: Iterable[Block], stream: TextIO) -> None:
    from rich.text import Text

    console = _console(stream)
    for block in map(visible_block, blocks):
        if isinstance(block, Heading):
            console.print()
            console.print(Text(block.text, style="bold"))
        elif isinstance(block, Line):
            for text in _broken(block, max(40, console.width)):
                console.print(Text(text, style=STYLES[block.tone]), soft_wrap=True)
        else:
            _print_table(block, console)


def _print_table(block: Table, console: Console) -> None:
    from rich.box import SIMPLE
    from rich.table import Table as RichTable
    from rich.text import Text

    table = RichTable(box=SIMPLE, pad_edge=False, show_edge=False)
    for name in block.columns:
        figures = name in block.figures
        table.add_column(Text(name), justify="right" if figures else "left", no_wrap=figures, overflow="fold")
    tones = block.tones or (Tone.PLAIN,) * len(block.rows)
    for row, tone in zip(block.rows, tones, strict=True):
        cells = [Text(text) for text in row]
        cells[0].stylize(STYLES[tone])
        table.add_row(*cells)
    console.print(table)


def _console(stream: TextIO) -> Console:
    from rich.console import Console

    return Console(file=stream, highlight=False)


@contextmanager
def progress(stream: TextIO) -> Iterator[Progress]:
    """Progress on ``stream``: a moving line on a terminal, one line per stage anywhere else."""
    if stream.isatty():
        from rich.progress import BarColumn, MofNCompleteColumn, SpinnerColumn, TextColumn, TimeElapsedColumn
        from rich.progress import Progress as RichProgress

        words = SpinnerColumn(), TextColumn("{task.description}", markup=False)
        columns = *words, BarColumn(), MofNCompleteColumn(), TimeElapsedColumn()
        with RichProgress(*columns, console=_console(stream), transient=True) as bars:
            yield _Bar(bars)
    else:
        yield _StageLines(stream)


class _Bar:
    """The stage at work as one moving line."""

    def __init__(self, bars: Bars) -> None:
        self.bars, self.stage = bars, ""

    def __call__(self, stage: str, done: int, total: int) -> None:
        if stage != self.stage:
            for task in self.bars.task_ids:
                self.bars.remove_task(task)
            self.bars.add_task(visible(stage), total=total or None)
            self.stage = stage
        for task in self.bars.task_ids:
            self.bars.update(task, completed=done, total=total or None)


class _StageLines:
    """One line when a stage begins, for logs."""

    def __init__(self, stream: TextIO) -> None:
        self.stream, self.stage = stream, ""

    def __call__(self, stage: str, done: int, total: int) -> None:
        if stage != self.stage:
            self.stage = stage
            left = f" ({total - done} of {total} pairs)" if total else ""
            self.stream.write(f"{visible(stage)}{left}\n")
            self.stream.flush()
