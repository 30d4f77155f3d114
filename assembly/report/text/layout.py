"""What a report is made of, before anyone knows whether it goes to a terminal, a file or a pipe."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import partial

from assembly.printable import visible


class Tone(StrEnum):
    """What a line means; the words say the same, so nothing is lost where tones cannot be shown."""

    PLAIN = "plain"
    GOOD = "good"
    BAD = "bad"
    OPEN = "open"
    QUIET = "quiet"


TONES = {"clear": Tone.GOOD, "fails": Tone.BAD, "undecided": Tone.OPEN}
"""What a verdict means."""


@dataclass(frozen=True, slots=True)
class Line:
    """One sentence or more; ``indent`` in steps. A ``whole`` one is never broken, so that programs can read it.

    ``brief``: what stands in its place in a report of one screen, if not empty.
    """

    text: str
    tone: Tone = Tone.PLAIN
    indent: int = 0
    whole: bool = False
    brief: str = ""


@dataclass(frozen=True, slots=True)
class Heading:
    """The name of a section, with a blank line before it.

    ``aside``: what a report of one screen counts in the place of the section; empty where it shows the section. The
    section ends with the next heading or empty line. ``most``: of how many of its lines that judge nothing a report of
    one screen shows the first, None for all. ``if_full``: what is counted in the place of the section where the screen
    is too full for it.
    """

    text: str
    aside: str = ""
    most: int | None = None
    if_full: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of text; the columns named in ``figures`` hold numbers and stand to the right. ``tones`` one per row.

    ``row_is``: what one row and several are called where some are left out. ``aside``: columns that a report of one
    screen does not show.
    """

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    figures: frozenset[str] = frozenset()
    tones: tuple[Tone, ...] = ()
    row_is: tuple[str, str] = ("row", "rows")
    aside: frozenset[str] = frozenset()

    @property
    def crossed(self) -> bool:
        """Whether its columns are values as its rows are, so that it is read across and down."""
        return self.figures.issuperset(self.columns)


def without_empty(table: Table) -> Table:
    """The table without the columns that are empty in all rows."""
    return only_columns(
        table, [number for number in range(len(table.columns)) if any(row[number] for row in table.rows)]
    )


def only_columns(table: Table, told: Sequence[int]) -> Table:
    """The table with some of its columns."""
    rows = tuple(tuple(row[number] for number in told) for row in table.rows)
    return replace(table, columns=tuple(table.columns[number] for number in told), rows=rows)


Block = Line | Heading | Table


def visible_block(block: Block) -> Block:
    """``block`` with every sign spelled out that would not show itself, whatever it came from."""
    if isinstance(block, Heading):
        return replace(block, text=visible(block.text))
    if isinstance(block, Line):
        return replace(block, text=visible(block.text))
    in_cells = partial(map, visible)
    return replace(
        block, columns=tuple(in_cells(block.columns)), rows=tuple(tuple(in_cells(row)) for row in block.rows)
    )
