"""A map as plain values, and its table: one line per cell."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from io import StringIO
from math import floor, hypot, isfinite
from typing import TYPE_CHECKING

from assembly.record.common import drive_entries, machine_entry, settings_of
from assembly.record.entries import DriveEntry, MachineEntry, Record
from assembly.record.unsettled import UnsettledEntry, unsettled_entries
from assembly.record.values import Settings

if TYPE_CHECKING:
    from assembly.clearance.still import StillPair
    from assembly.studies.mapping import MapResult

DIGITS = 4
"""Decimals of a length in the table."""
SETTING_DIGITS = 9
"""Significant digits of a drive's setting in the table."""
EQUAL_MM = 1e-6
"""Lengths that differ by less are equal."""
COLUMNS = ("least_mm", "proven_mm", "part_a", "part_b", "reached", "room_mm", "proven_room_mm")
"""Of the table, after one per drive."""


@dataclass(frozen=True, slots=True)
class MapCell:
    """A cell by its centre ``at``: what was measured there, and what holds at every setting of the cell.

    ``least_mm``: the smallest distance, of the parts ``a`` and ``b``; ``room_mm``: the smallest of all distances less
    what the pair must keep. None where the centre cannot be reached, or where nothing is proven.
    """

    at: Settings
    reached: bool
    least_mm: float | None
    proven_mm: float | None
    a: str
    b: str
    room_mm: float | None
    proven_room_mm: float | None


@dataclass(frozen=True, slots=True)
class StillEntry:
    """A pair that never moves against each other and is nearer than it must be."""

    a: str
    b: str
    distance_mm: float
    required_mm: float


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
    ``required_mm``: what every pair must keep, None where pairs differ. ``still_pairs`` are not in the map; those of
    them that are too near are listed in ``still``. ``names`` of the pairs in the map; ``swept``: what the sweep says of
    these pairs over the whole range, None where it was not asked. ``unsettled``: pairs whose cells are measured at the
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

    @property
    def answer(self) -> Record | None:
        """The sweep's answer, where the map is of the whole range; None of a slice, in which the least need not be."""
        return None if self.held else self.swept

    @property
    def least(self) -> MapCell | None:
        """The cell with the smallest distance, of equal ones that nearest to rest; None where none can be reached."""
        return self.lowest(lambda cell: cell.least_mm)

    @property
    def proven_mm(self) -> float | None:
        """No setting of the mapped range has less, None where that is not proven in some cell."""
        bounds = [cell.proven_mm for cell in self.cells]
        proven = [bound for bound in bounds if bound is not None]
        return min(proven) if len(proven) == len(bounds) else None

    def lowest(self, length: Callable[[MapCell], float | None]) -> MapCell | None:
        """The cell where ``length`` is smallest, of equal ones that nearest to rest; None where it is nowhere known."""
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


def still_entries(still: Iterable[StillPair]) -> tuple[StillEntry, ...]:
    """Those of the pairs that never move that are nearer than they must be."""
    return tuple(
        StillEntry(one.pair.a, one.pair.b, one.distance, one.pair.required)
        for one in still
        if one.distance <= 0 or one.distance < one.pair.required
    )


def map_record(mapped: MapResult) -> MapRecord:
    """The record of one map."""
    machine, lattice, lost = mapped.mechanism.machine, mapped.lattice, mapped.lost
    required = {pair.required for pair in mapped.pairs}
    counts = {
        name: count for name, count in zip(machine.drives, lattice.counts, strict=True) if name not in lattice.held
    }
    return MapRecord(
        machine=machine_entry(machine),
        drives=drive_entries(machine),
        counts=counts,
        held=dict(lattice.held),
        pair=mapped.wish.pair,
        pairs=len(mapped.pairs),
        required_mm=required.pop() if len(required) == 1 else None,
        cells=_cells(mapped),
        lost=LostEntry(settings_of(machine, lost.settings), lost.loop, lost.miss_mm) if lost else None,
        still_pairs=len(mapped.still),
        still=still_entries(mapped.still),
        names=tuple((pair.a, pair.b) for pair in mapped.pairs),
        unsettled=unsettled_entries(mapped.unsettled),
    )


def _cells(mapped: MapResult) -> tuple[MapCell, ...]:
    machine, field = mapped.mechanism.machine, mapped.field
    cells = []
    for row, setting in enumerate(field.settings.tolist()):
        reached = bool(field.reached[row])
        pair = mapped.pairs[int(field.owner[0, row])] if reached else None
        least, room = (_known(value) for value in field.found[:, row].tolist())
        proven, proven_room = (_known(value) for value in field.proven[:, row].tolist())
        names = (pair.a, pair.b) if pair else ("", "")
        cells.append(MapCell(settings_of(machine, tuple(setting)), reached, least, proven, *names, room, proven_room))
    return tuple(cells)


def _known(value: float) -> float | None:
    return value if isfinite(value) else None


def map_table(record: MapRecord) -> str:
    """The map as comma-separated text; lengths are never rounded up, and empty where there is none."""
    text = StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([*(f"{name}_{drive.unit}" for name, drive in record.drives.items()), *COLUMNS])
    for cell in record.cells:
        settings = [f"{value + 0.0:.{SETTING_DIGITS}g}" for value in cell.at.values()]
        lengths = (rounded_down(value) for value in (cell.least_mm, cell.proven_mm, cell.room_mm, cell.proven_room_mm))
        least, proven, room, proven_room = lengths
        reached = "yes" if cell.reached else "no"
        writer.writerow([*settings, least, proven, cell.a, cell.b, reached, room, proven_room])
    return text.getvalue()


def rounded_down(value: float | None) -> str:
    """A length rounded down, but for a ten-millionth of a millimetre of arithmetic."""
    return "" if value is None else f"{floor((value + 1e-7) * 10**DIGITS) / 10**DIGITS:z.{DIGITS}f}"
