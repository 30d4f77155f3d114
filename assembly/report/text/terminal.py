"""Blocks onto a stream: plain text that reads without colour, or by rich where the stream is a terminal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, TextIO

from assembly.printable import visible
from assembly.progress import Progress
from assembly.report.text.broken_lines import STEP, lines_at, table_rows
from assembly.report.text.layout import Block, Heading, Table, Tone, visible_block

if TYPE_CHECKING:
    from rich.console import Console
    from rich.progress import Progress as Bars
    from rich.text import Text

RULE_STROKES = 30
"""Strokes of a full line of progress."""
STYLES = {
    Tone.PLAIN: "",
    Tone.GOOD: "bold green",
    Tone.BAD: "bold red",
    Tone.OPEN: "bold yellow",
    Tone.QUIET: "dim",
}
WIDTH = 100
"""Plain text is broken at this width; programs read the record (`--json`), not the text."""
SPELLED = str.maketrans({"−": "-", "–": "-", "°": " deg", "×": "x", "…": "...", "³": "3"})
"""How the signs of a report are spelled where they cannot be shown."""
LEAST_WIDTH = 40
"""Narrower terminals break the lines themselves."""


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
    yield from lines_at(block, WIDTH)


def _write_rich(blocks: Iterable[Block], stream: TextIO) -> None:
    console = _console(stream)
    width = max(LEAST_WIDTH, console.width)
    for block in blocks:
        for text in _styled(block, width):
            console.print(text, soft_wrap=True)


def _styled(block: Block, width: int) -> Iterator[Text]:
    """The lines of ``block`` with their colours; of a table's row, its first cell."""
    from rich.text import Text

    block = visible_block(block)
    if isinstance(block, Table):
        head, *rows = table_rows(block, width)
        yield from (Text(line, style="bold") for line in head)
        tones = block.tones or (Tone.PLAIN,) * len(rows)
        for cells, lines, tone in zip(block.rows, rows, tones, strict=True):
            told = [Text(line) for line in lines]
            told[0].stylize(STYLES[tone], 0, len(STEP) + len(cells[0]))
            yield from told
        return
    style = "bold" if isinstance(block, Heading) else STYLES[block.tone]
    yield from (Text(line, style=style) for line in lines_at(block, width))


def _console(stream: TextIO) -> Console:
    from rich.console import Console

    return Console(file=stream, highlight=False)


@contextmanager
def progress(stream: TextIO) -> Iterator[Progress]:
    """Progress on ``stream``: a moving line on a terminal, one line per stage anywhere else."""
    if stream.isatty():
        from rich.progress import Progress as RichProgress
        from rich.progress import TextColumn, TimeElapsedColumn

        line = TextColumn("{task.description}", markup=False)
        with RichProgress(line, TimeElapsedColumn(), console=_console(stream), transient=True) as bars:
            yield _Bar(bars)
    else:
        yield _StageLines(stream)


def ruled(stage: str, done: int, total: int) -> str:
    """A stage with its progress as strokes along a rule, every fifth long, and in figures; without a total its name."""
    if not total:
        return stage
    reached = RULE_STROKES * min(done, total) // total
    strokes = "".join("|" if number % 5 == 0 else "'" for number in range(1, reached + 1))
    return f"{stage}  {strokes:.<{RULE_STROKES}}  {done} of {total}"


class _Bar:
    """The stage at work as one moving line."""

    def __init__(self, bars: Bars) -> None:
        self.bars, self.stage = bars, ""

    def __call__(self, stage: str, done: int, total: int) -> None:
        if stage != self.stage:
            for task in self.bars.task_ids:
                self.bars.remove_task(task)
            self.bars.add_task("", total=total or None)
            self.stage = stage
        for task in self.bars.task_ids:
            self.bars.update(task, completed=done, total=total or None, description=ruled(visible(stage), done, total))


class _StageLines:
    """One line when a stage begins for the first time, for logs."""

    def __init__(self, stream: TextIO) -> None:
        self.stream = stream
        self.begun: set[str] = set()

    def __call__(self, stage: str, done: int, total: int) -> None:
        if stage not in self.begun:
            self.begun.add(stage)
            left = f" ({total - done} of {total})" if total else ""
            self.stream.write(f"{visible(stage)}{left}\n")
            self.stream.flush()
