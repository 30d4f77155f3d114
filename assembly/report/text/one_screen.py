"""A report cut down to one screen: what fails and what is open first, what is left out counted."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from assembly.report.text.broken_lines import lines_at
from assembly.report.text.layout import Block, Heading, Line, Table, Tone, only_columns
from assembly.report.text.words import count

SCREEN_WIDTH, SCREEN_HEIGHT = 80, 40
"""Columns and lines of a common terminal window, two lines kept for its prompt."""
FILE_LINES = 3
"""That say where files lie."""
WORST = 5
"""Rows of a table that are shown, the worst first."""
LEAST_ROWS = 2
"""Rows of a table that are shown where the screen is full."""
JUDGED = (Tone.BAD, Tone.OPEN)
"""What is never left out before what passes."""


def one_screen(blocks: Iterable[Block], record: str = "", files: int = FILE_LINES) -> Iterator[Block]:
    """The worst rows of every table, and no section that is an aside; then what was left out.

    Where all of it fits, it is all of it. Where even that is too high, sections that may go are left out too, the last
    of them first.
    ``record``: the file that has all of it, if one was written. ``files``: lines that say where files lie.
    """
    blocks = tuple(blocks)
    if fits(blocks, files):
        yield from blocks
        return
    shown: list[Block] = []
    for shown in _shorter(list(_sections(blocks)), record):
        if fits(shown, files):
            break
    yield from shown


def _shorter(sections: list[list[Block]], record: str) -> Iterator[list[Block]]:
    """What is shown of all sections, less and less of it."""
    yield _shown(sections, record)
    for section in reversed(sections):
        head = section[0]
        if isinstance(head, Heading) and head.if_full:
            section[0] = replace(head, aside=head.if_full)
            yield _shown(sections, record)
    for rows in range(WORST - 1, LEAST_ROWS - 1, -1):
        yield _shown(sections, record, rows)


def _shown(sections: Sequence[Sequence[Block]], record: str, rows: int = WORST) -> list[Block]:
    """What is shown of all sections, and what is left out."""
    left: list[str] = []
    shown = [block for section in sections for block in _short_section(section, left, rows)]
    return [*shown, *left_out_line(left, record)]


def _sections(blocks: Iterable[Block]) -> Iterator[list[Block]]:
    """Blocks from one heading or empty line to the next."""
    section: list[Block] = []
    for block in blocks:
        if section and (isinstance(block, Heading) or (isinstance(block, Line) and not block.text)):
            yield section
            section = []
        section.append(block)
    yield section


def _short_section(section: Sequence[Block], left: list[str], rows: int) -> Iterator[Block]:
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
            yield from _short_block(block, left, rows)
    if not aside and most is not None and told > most and isinstance(head, Heading):
        name = head.text.partition(":")[0].partition(" (")[0]
        left.append(f"{count(told - most, 'line')} under `{name}`")


def _short_block(block: Block, left: list[str], rows: int) -> Iterator[Block]:
    if not isinstance(block, Table):
        yield block
        return
    shown, more = worst_rows(_without_asides(block), rows)
    left.extend([more] if more else [])
    yield shown


def _without_asides(table: Table) -> Table:
    """The table without the columns that one screen does not show."""
    return only_columns(table, [number for number, name in enumerate(table.columns) if name not in table.aside])


def worst_rows(table: Table, most: int = WORST) -> tuple[Table, str]:
    """The worst rows, and how many others there are and of what kind, empty if there are none."""
    tones = table.tones or (Tone.PLAIN,) * len(table.rows)
    order = sorted(range(len(tones)), key=lambda row: _rank(tones[row]))
    shown, rest = order[:most], order[most:]
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


def fits(blocks: Sequence[Block], files: int = FILE_LINES) -> bool:
    """Whether ``blocks``, where the files lie and the verdict once more fit on one common screen."""
    return height(blocks) + files + height(verdict_again(blocks)) <= SCREEN_HEIGHT


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
