"""A map as plain values, and its table: one line per cell."""

from __future__ import annotations

import csv
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from io import StringIO
from math import floor, hypot

from assembly.printable import table_cell
from assembly.record.entries import DriveEntry, MachineEntry, Record
from assembly.record.values import Settings, UnsettledEntry

DIGITS = 4
"""Decimals of a length in the table."""
SETTING_DIGITS = 9
"""Significant digits of a drive's setting in the table."""
EQUAL_MM = 1e-6
"""Lengths that differ by less are equal."""
COLUMNS = ("least_mm", "proven_mm", "part_a", "part_b", "reached", "margin_mm", "proven_margin_mm")
"""Of the table, after one per drive."""


@dataclass(frozen=True, slots=True)
class MapCell:
    """A cell by its centre ``at``: what was measured there, and what holds at every setting of the cell.

    ``least_mm``: the smallest distance, of the parts ``a`` and ``b``; ``room_mm``: the smallest of all distances less
    what the pair must keep. None if the centre cannot be reached, or where nothing is proven.
    """

    at: Settings
    reached: bool
    least_mm: float | None
    proven_mm: float | None
    a: str
    b: str
    room_mm: float | None
    proven_room_mm: float | None

    def bounded(self, proven: float, room: float) -> MapCell:
        """The cell with these bounds where they are better than its own; none is beyond what was measured in it."""
        if self.least_mm is None or self.room_mm is None:
            return self
        bound, room_bound = (
            other if own is None else max(own, other)
            for own, other in ((self.proven_mm, proven), (self.proven_room_mm, room))
        )
        return replace(self, proven_mm=min(self.least_mm, bound), proven_room_mm=min(self.room_mm, room_bound))


@dataclass(frozen=True, slots=True)
class StillEntry:
    """A pair that never moves against each other, at rest; of these the record has those nearer than they must be."""

    a: str
    b: str
    distance_mm: float
    required_mm: float

    @property
    def too_near(self) -> bool:
        """Whether it is nearer than it must be, or strikes."""
        return self.distance_mm <= 0 or self.distance_mm < self.required_mm


@dataclass(frozen=True, slots=True)
class LostEntry:
    """A setting that cannot be reached, the loop that does not close there, and by how much."""

    at: Settings
    loop: tuple[str, ...]
    miss_mm: float


@dataclass(frozen=True, slots=True)
class MapRecord:
    """The map of ``pair``, or where that is None of all ``pairs`` that move, over the drives named in ``counts``.

    ``counts``: cells along each of these drives, whose last runs quickest in ``cells``; all others are ``held``.
    ``required_mm``: what every pair must keep, None if pairs differ. ``still_pairs`` are not in the map; those of
    them that are too near are listed in ``still``. ``names`` of the pairs in the map; ``swept``: what the sweep says of
    these pairs over the whole range, None if it was not asked. ``unsettled``: pairs whose cells are measured at the
    worst roll of a part of which no single roll was found, with the sweep's answer: such a cell is no failure yet.
    """

    machine: MachineEntry
    drives: Mapping[str, DriveEntry]
    counts: Mapping[str, int]
    held: Settings
    pair: tuple[str, str] | None
    pairs: int
    required_mm: float | None
    cells: tuple[MapCell, ...]
    lost: LostEntry | None
    still_pairs: int
    still: tuple[StillEntry, ...]
    names: tuple[tuple[str, str], ...] = ()
    swept: Record | None = None
    unsettled: tuple[UnsettledEntry, ...] = ()

    def bounded(self, swept: Record) -> MapRecord:
        """The map with what ``swept``, the sweep of the same machine, says of the pairs in it, and of no others.

        No setting of the range has less than the sweep's bound of all pairs in the map, so none of a cell has: each
        cell gets the better of both bounds. What was measured at the centres stays.
        """
        mapped = replace(self, swept=swept)
        proven = [bound for pair in swept.pairs if (bound := pair.proven_mm) is not None]
        if len(proven) < len({frozenset(names) for names in self.names}) or not self._within_what_was_swept():
            return mapped
        room = min(bound - pair.required_mm for bound, pair in zip(proven, swept.pairs, strict=True))
        return replace(mapped, cells=tuple(cell.bounded(min(proven), room) for cell in self.cells))

    def _within_what_was_swept(self) -> bool:
        return all(self.drives[name].from_ <= value <= self.drives[name].to for name, value in self.held.items())

    @property
    def answer(self) -> Record | None:
        """The sweep's answer, where the map is of the whole range; None of a slice, in which the least need not be."""
        return None if self.held else self.swept

    @property
    def least(self) -> MapCell | None:
        """The cell with the smallest distance, of equal ones that nearest to rest; None if none can be reached."""
        return self.lowest(lambda cell: cell.least_mm)

    @property
    def proven_mm(self) -> float | None:
        """No setting of the mapped range has less, None if that is not proven in some cell."""
        bounds = [cell.proven_mm for cell in self.cells]
        proven = [bound for bound in bounds if bound is not None]
        return min(proven) if len(proven) == len(bounds) else None

    def lowest(self, length: Callable[[MapCell], float | None]) -> MapCell | None:
        """The cell where ``length`` is smallest, of equal ones that nearest to rest; None if it is nowhere known."""
        known = [(value, cell) for cell in self.cells if (value := length(cell)) is not None]
        equal = min((value for value, _ in known), default=0.0) + EQUAL_MM
        return min((cell for value, cell in known if value <= equal), key=self._way_from_rest, default=None)

    def _way_from_rest(self, cell: MapCell) -> float:
        return hypot(*(cell.at[name] / ((drive.to - drive.from_) or 1.0) for name, drive in self.drives.items()))

    @property
    def failing(self) -> tuple[MapCell, ...]:
        """Cells at whose centre a pair is nearer than it must be, or strikes."""
        return tuple(cell for cell in self.cells if cell.reached and ((cell.room_mm or 0.0) < 0 or not cell.least_mm))

    @property
    def unreached(self) -> int:
        """How many cells' centres cannot be reached."""
        return sum(not cell.reached for cell in self.cells)

    @property
    def fails(self) -> bool:
        """Whether anything that the map shows, or leaves out as never moving, is not as it must be."""
        swept = self.answer is not None and self.answer.verdict == "fails"
        unsettled = any(one.verdict == "fails" for one in self.unsettled)
        measured = self.failing and not self.unsettled
        return bool(swept or unsettled or measured or self.unreached or self.still)

    @property
    def undecided(self) -> bool:
        """Whether the sweep could not prove what the map does not show to fail."""
        swept = self.answer is not None and self.answer.verdict == "undecided"
        return bool(swept or self.unsettled) and not self.fails


def map_table(record: MapRecord) -> str:
    """The map as comma-separated text; lengths are never rounded up, and empty if there is none."""
    text = StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([*(table_cell(f"{name}_{drive.unit}") for name, drive in record.drives.items()), *COLUMNS])
    for cell in record.cells:
        settings = [f"{value + 0.0:.{SETTING_DIGITS}g}" for value in cell.at.values()]
        lengths = (rounded_down(value) for value in (cell.least_mm, cell.proven_mm, cell.room_mm, cell.proven_room_mm))
        least, proven, room, proven_room = lengths
        reached = "yes" if cell.reached else "no"
        writer.writerow([*settings, least, proven, *map(table_cell, (cell.a, cell.b)), reached, room, proven_room])
    return text.getvalue()


def rounded_down(value: float | None) -> str:
    """A length rounded down, but for a ten-millionth of a millimetre of arithmetic."""
    return "" if value is None else f"{floor((value + 1e-7) * 10**DIGITS) / 10**DIGITS:z.{DIGITS}f}"
