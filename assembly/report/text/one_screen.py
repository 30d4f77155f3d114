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
    """The worst rows of every table, and no section that is an aside; then what was left out.

    Where all of it fits, it is all of it.
    ``record``: the file that has all of it, if one was written.
    """
    blocks = tuple(blocks)
    if fits(blocks):
        yield from blocks
        return
    left: list[str] = []
    for section in _sections(blocks):
        yield from _short_section(section, left)
    yield from left_out_line(left, record)


def _sections(blocks: Iterable[Block]) -> Iterator[list[Block]]:
    """Blocks from one heading or empty line to the next."""
    section: list[Block] = []
    for block in blocks:
        if section and (isinstance(block, Heading) or (isinstance(block, Line) and not block.text)):
            yield section
            section = []
        section.append(block)
    yield section


def _short_section(section: Sequence[Block], left: list[str]) -> Iterator[Block]:
    """What is shown of a section; what is not is added to ``left``."""
    head = section[0]
    most = head.most if isinstance(head, Heading) else None
    aside = head.aside if isinstance(head, Heading) else ""
    left.extend([aside] if aside else [])
    told = 0
    for block in section:
        if isinstance(block, Line) and block.tone not in JUDGED and block.text:
            told += 1
            if not aside and (most is None or told <= most):
                yield replace(block, text=block.brief or block.text)
        elif isinstance(block, Line) or not aside:
            yield from _short_block(block, left)
    if not aside and most is not None and told > most and isinstance(head, Heading):
        name = head.text.partition(":")[0].partition(" (")[0]
        left.append(f"{count(told - most, 'line')} under `{name}`")


def _short_block(block: Block, left: list[str]) -> Iterator[Block]:
    if not isinstance(block, Table):
        yield block
        return
    shown, more = worst_rows(block)
    left.extend([more] if more else [])
    yield shown


def worst_rows(table: Table) -> tuple[Table, str]:
    """The worst rows, and how many others there are and of what kind, empty if there are none."""
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


def fits(blocks: Iterable[Block]) -> bool:
    """Whether ``blocks`` and what comes after them fit on one common screen."""
    return height(blocks) + END_LINES <= SCREEN_HEIGHT


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
