"""The usable range as plain values, and its table: one line per setting looked at."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass, field
from io import StringIO
from typing import Annotated, Literal

from assembly.printable import table_cell
from assembly.record.entries import DriveEntry, MachineEntry
from assembly.record.mapped import SETTING_DIGITS, StillEntry, rounded_down
from assembly.record.values import From, Settings, UnsettledEntry

Kind = Literal["loop", "pair", "joint", "measure"]
COLUMNS = ("usable", "broken", "margin_mm", "part_a", "part_b", "joint_margin", "joint")
"""Of the table, after one per drive."""


@dataclass(frozen=True, slots=True)
class RuleEntry:
    """A rule; what does not belong to its kind is empty.

    The pair ``a`` and ``b`` keeps ``required_mm``, the motion of a joint, or a measure whose name then is ``joint``,
    stays between ``low`` and ``high``, in ``unit``, or the parts of a ``loop`` close.
    ``shape_a`` and ``shape_b``: those that are nearest where the rule is broken, and ``rolls`` in degrees by name:
    those at which they are, of all that the ends of parts that can roll allow there.
    """

    kind: Kind
    a: str = ""
    b: str = ""
    shape_a: str = ""
    shape_b: str = ""
    required_mm: float | None = None
    joint: str = ""
    motion: str = ""
    unit: str = ""
    low: float | None = None
    high: float | None = None
    loop: tuple[str, ...] = ()
    rolls: Settings = field(default_factory=dict, hash=False)


@dataclass(frozen=True, slots=True)
class GovernorEntry:
    """What ends the usable region, by its number: ``rules`` together, none where nothing was looked at beyond."""

    number: int
    rules: tuple[RuleEntry, ...]


@dataclass(frozen=True, slots=True)
class StretchEntry:
    """A stretch of the border, ``points`` over the free drives in their order.

    ``sides``: which end of which drive it bounds, such as ``("tilt", "high")``, where it does so mostly first.

    ``line``: the number of the closed line of the border it is part of; 0 is the longest.
    """

    governor: int
    sides: tuple[tuple[str, Literal["low", "high"]], ...]
    line: int
    points: tuple[tuple[float, ...], ...]


@dataclass(frozen=True, slots=True)
class FarthestEntry:
    """How far a drive can go one way, and the number of what governs it."""

    value: float
    governor: int


@dataclass(frozen=True, slots=True)
class StopsEntry:
    """With ``drive`` stopped at ``from`` and ``to``, the farthest stops of ``other``; None: not even rest is usable."""

    drive: str
    from_: Annotated[float, From]
    to: float
    other: str
    low: FarthestEntry | None
    high: FarthestEntry | None


@dataclass(frozen=True, slots=True)
class BreachEntry:
    """A rule that is the worst broken at ``settings`` of those inside the file's own range; at most ``short`` of it.

    ``short`` is in mm, or in the unit of the joint; None for a loop.
    """

    rule: RuleEntry
    settings: int
    short: float | None
    at: Settings


@dataclass(frozen=True, slots=True)
class RangeCell:
    """One setting looked at: whether it is usable, and the kind of rule that is the worst ``broken`` there, if any.

    ``room_mm``: the least clearance less what is required, of ``a`` and ``b``; ``reserve``: what is left to the limit
    of ``joint``. Both None if the setting is not reached, or there is none.
    """

    at: Settings
    usable: bool
    broken: Kind | None
    room_mm: float | None
    a: str
    b: str
    reserve: float | None
    joint: str


@dataclass(frozen=True, slots=True)
class RangeRecord:
    """The usable range over the drives of ``looked``, all others being ``held``; ``drives``: the file's own ranges.

    ``unsettled``: pairs that are no rule here, with the sweep's answer; with any of them the own range does not fit.

    ``steps``: the largest distance of settings along each drive of ``looked``. ``fits``: the own range lies wholly
    inside the usable region. ``islands``: settings of the own range that hold every rule but are cut off from rest.
    """

    machine: MachineEntry
    drives: Mapping[str, DriveEntry]
    looked: Mapping[str, DriveEntry]
    steps: Mapping[str, float]
    held: Settings
    precision: float
    pairs: int
    limits: int
    fits: bool
    breaches: tuple[BreachEntry, ...]
    islands: int
    governors: tuple[GovernorEntry, ...]
    stretches: tuple[StretchEntry, ...]
    stops: tuple[StopsEntry, ...]
    cells: tuple[RangeCell, ...]
    still_pairs: int
    still: tuple[StillEntry, ...]
    unsettled: tuple[UnsettledEntry, ...] = ()
    measures: int = 0
    """Measures with limits, which are rules too."""

    @property
    def undecided(self) -> bool:
        """Whether only what the sweep cannot tell either keeps the own range from fitting."""
        rest = any(one.verdict == "fails" for one in self.unsettled)
        return bool(self.unsettled) and not (rest or self.breaches or self.islands or self.still)


def range_table(record: RangeRecord) -> str:
    """The settings looked at as comma-separated text; lengths are never rounded up, and empty if there is none."""
    text = StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([*(table_cell(f"{name}_{drive.unit}") for name, drive in record.drives.items()), *COLUMNS])
    for cell in record.cells:
        settings = [f"{value + 0.0:.{SETTING_DIGITS}g}" for value in cell.at.values()]
        usable, room, reserve = "yes" if cell.usable else "no", rounded_down(cell.room_mm), rounded_down(cell.reserve)
        writer.writerow(
            [
                *settings,
                usable,
                cell.broken or "",
                room,
                *map(table_cell, (cell.a, cell.b)),
                reserve,
                table_cell(cell.joint),
            ]
        )
    return text.getvalue()
