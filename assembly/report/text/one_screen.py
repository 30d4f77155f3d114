"""A report cut down to one screen: what fails and what is open first, what is left out counted."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from assembly.report.text.broken_lines import lines_at
from assembly.report.text.layout import Block, Heading, Line, Table, Tone
from assembly.report.text.words import count

SCREEN_WIDTH, SCREEN_HEIGHT = 80, 40
"""Columns and lines of a common terminal window, two lines kept for its prompt."""
END_LINES = 6
"""Where files lie, and the verdict once more."""
WORST = 5
"""Rows of a table that are shown, the worst first."""
JUDGED = (Tone.BAD, Tone.OPEN)
"""What is never left out before what passes."""


def one_screen(blocks: Iterable[Block], record: str = "") -> Iterator[Block]:
    """The worst rows of every table, and no section that is told aside; then what was left out.

    Where all of it fits, it is all of it.
    ``record``: the file that has all of it, if one was written.
    """
    blocks = tuple(blocks)
    if height(blocks) + END_LINES <= SCREEN_HEIGHT:
        yield from blocks
        return
    left: list[str] = []
    aside = False
    for block in blocks:
        if isinstance(block, Heading):
            aside = bool(block.aside)
            left.extend([block.aside] if aside else [])
        elif isinstance(block, Line) and not block.text:
            aside = False
        if aside and not (isinstance(block, Line) and block.tone in JUDGED):
            continue
        if isinstance(block, Table):
            shown, more = worst_rows(block)
            left.extend([more] if more else [])
            yield shown
        else:
            yield block
    yield from left_out_line(left, record)


def worst_rows(table: Table) -> tuple[Table, str]:
    """The worst rows, and how many others there are and of what kind, empty where there are none."""
    tones = table.tones or (Tone.PLAIN,) * len(table.rows)
    order = sorted(range(len(tones)), key=lambda row: _rank(tones[row]))
    shown, rest = order[:WORST], order[WORST:]
    cut = replace(
        table,
        rows=tuple(table.rows[row] for row in shown),
        tones=tuple(table.tones[row] for row in shown) if table.tones else (),
    )
    return cut, left_words([tones[row] for row in rest], table.row_is) if rest else ""


def left_words(tones: Sequence[Tone], row_is: tuple[str, str]) -> str:
    """``7 pairs, 2 of them failing``: rows that were left out, by what they mean."""
    bad, undecided = tones.count(Tone.BAD), tones.count(Tone.OPEN)
    told = [f"{bad} of them failing"] if bad else []
    told += [f"{undecided} of them undecided"] if undecided else []
    return ", ".join([count(len(tones), *row_is), *told])


def _rank(tone: Tone) -> int:
    return JUDGED.index(tone) if tone in JUDGED else len(JUDGED)


def left_out_line(left: Sequence[str], record: str = "") -> Iterator[Line]:
    """What is not shown and how to see it; nothing if all is shown."""
    if left:
        where = f", {record} has them" if record else ""
        yield Line(f"Left out: {'; '.join(left)}: `--all` prints them{where}.", Tone.QUIET)


def height(blocks: Iterable[Block]) -> int:
    """Lines that ``blocks`` take on a common screen."""
    return sum(len(list(lines_at(block, SCREEN_WIDTH))) for block in blocks)


def verdict_again(blocks: Iterable[Block]) -> Iterator[Line]:
    """The verdict of a report, to stand at its end where the eye is when it has run through."""
    for block in blocks:
        if isinstance(block, Line) and block.tone in (*JUDGED, Tone.GOOD):
            yield Line("")
            yield block
            return
