"""The usable range as plain values, and its table: one line per setting looked at."""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from io import StringIO
from math import isfinite
from typing import TYPE_CHECKING, Annotated, Literal

from assembly.record.common import drive_entries, machine_entry, settings_of
from assembly.record.entries import DriveEntry, MachineEntry
from assembly.record.mapped import SETTING_DIGITS, StillEntry, rounded_down, still_entries
from assembly.record.unsettled import UnsettledEntry, unsettled_entries
from assembly.record.values import From, Settings

if TYPE_CHECKING:
    from assembly.clearance.rules import Rule, Standing
    from assembly.clearance.trade_off import End, Stops
    from assembly.studies.usable_range import Cause, RangeResult

Kind = Literal["loop", "pair", "joint"]
COLUMNS = ("usable", "broken", "room_mm", "part_a", "part_b", "reserve", "joint")
"""Of the table, after one per drive."""
MAIN_SHARE = 0.25
"""Of the places on a stretch, for a side to be named."""


@dataclass(frozen=True, slots=True)
class RuleEntry:
    """A rule; what does not belong to its kind is empty.

    The pair ``a`` and ``b`` keeps ``required_mm``, the motion of a joint stays between ``low`` and ``high``, in
    ``unit``, or the parts of a ``loop`` close.
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
    of ``joint``. Both None where the setting is not reached, or there is none.
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

    @property
    def undecided(self) -> bool:
        """Whether only what the sweep cannot tell either keeps the own range from fitting."""
        rest = any(one.verdict == "fails" for one in self.unsettled)
        return bool(self.unsettled) and not (rest or self.breaches or self.islands or self.still)


def range_record(result: RangeResult) -> RangeRecord:
    """The record of one usable range."""
    from assembly.clearance.rules import NONE, RuleKind
    from assembly.clearance.usable import PRECISION
    from assembly.studies.usable_range import breaches

    machine, grid = result.machine, result.region.grid
    names = [list(machine.drives)[axis] for axis in grid.free]
    kinds = Counter(rule.kind for rule in result.rules)
    own, still = result.region.usable.reshape(-1)[grid.own], still_entries(result.still)
    holds = result.region.standing.worst[grid.own] == NONE
    return RangeRecord(
        machine=machine_entry(machine),
        drives=drive_entries(machine),
        looked={name: drive for name, drive in drive_entries(machine.widened).items() if name in names},
        steps=dict(zip(names, grid.steps, strict=True)),
        held=dict(grid.held),
        precision=PRECISION,
        pairs=kinds[RuleKind.PAIR],
        limits=kinds[RuleKind.JOINT],
        fits=bool(own.all()) and not still and not result.unsettled,
        breaches=tuple(
            BreachEntry(
                rule_entry(one.rule),
                one.count,
                _known(-one.room),
                {**settings_of(machine, tuple(one.at.tolist())), **one.rolls},
            )
            for one in breaches(result)
        ),
        islands=int((holds & ~own).sum()),
        governors=tuple(
            GovernorEntry(number, tuple(cause_entry(cause) for cause in governor.causes))
            for number, governor in enumerate(result.governors, 1)
        ),
        stretches=_stretches(result),
        stops=_stops(result),
        cells=_cells(result),
        still_pairs=len(result.still),
        still=still,
        unsettled=unsettled_entries(result.unsettled),
    )


def rule_entry(rule: Rule) -> RuleEntry:
    """A rule by its names and numbers."""
    if rule.pair is not None:
        return RuleEntry("pair", a=rule.pair.a, b=rule.pair.b, required_mm=rule.pair.required)
    if rule.limit is not None:
        motion, low, high = rule.limit.motion, _known(rule.limit.low), _known(rule.limit.high)
        return RuleEntry("joint", joint=rule.limit.joint, motion=motion.name, unit=motion.unit, low=low, high=high)
    return RuleEntry("loop")


def cause_entry(cause: Cause) -> RuleEntry:
    """A rule with what shows that it is broken."""
    shape_a, shape_b = cause.shapes
    return replace(rule_entry(cause.rule), shape_a=shape_a, shape_b=shape_b, loop=cause.loop, rolls=dict(cause.rolls))


def _stretches(result: RangeResult) -> tuple[StretchEntry, ...]:
    drives, found = list(result.machine.drives), result.crossings
    entries = []
    for number, governor in enumerate(result.governors, 1):
        for stretch in governor.stretches:
            sides = _sides(drives, Counter((int(found.axis[k]), int(found.way[k])) for k in stretch.places))
            points = tuple(tuple(float(value) for value in point) for point in stretch.points)
            entries.append(StretchEntry(number, sides, stretch.loop, points))
    return tuple(entries)


def _sides(drives: Sequence[str], found: Counter[tuple[int, int]]) -> tuple[tuple[str, Literal["low", "high"]], ...]:
    """Ends of drives that a good share of a stretch bounds, the largest first."""
    least = MAIN_SHARE * found.total()
    return tuple((drives[axis], "high" if way > 0 else "low") for (axis, way), n in found.most_common() if n >= least)


def _stops(result: RangeResult) -> tuple[StopsEntry, ...]:
    drives = list(result.machine.drives)
    governs = {
        place: number
        for number, governor in enumerate(result.governors, 1)
        for stretch in governor.stretches
        for place in stretch.places
    }

    def entry(end: End) -> FarthestEntry:
        return FarthestEntry(end.value, governs[end.crossing])

    def row(one: Stops) -> StopsEntry:
        low, high = (None, None) if one.ends is None else map(entry, one.ends)
        return StopsEntry(drives[one.axis], one.low, one.high, drives[one.other], low, high)

    return tuple(map(row, result.stops))


def _cells(result: RangeResult) -> tuple[RangeCell, ...]:
    standing, usable = result.region.standing, result.region.usable.reshape(-1).tolist()
    worst = standing.worst.tolist()
    return tuple(
        RangeCell(
            settings_of(result.machine, tuple(setting)),
            usable[row],
            result.rules[worst[row]].kind.value if worst[row] >= 0 else None,
            *_pair_at(result, standing, row),
            *_joint_at(result, standing, row),
        )
        for row, setting in enumerate(standing.settings.tolist())
    )


def _pair_at(result: RangeResult, standing: Standing, row: int) -> tuple[float | None, str, str]:
    pair = result.rules[standing.pair[row]].pair if standing.reached[row] and standing.pair[row] >= 0 else None
    return (_known(float(standing.pair_room[row])), pair.a, pair.b) if pair else (None, "", "")


def _joint_at(result: RangeResult, standing: Standing, row: int) -> tuple[float | None, str]:
    limit = result.rules[standing.limit[row]].limit if standing.reached[row] and standing.limit[row] >= 0 else None
    return (_known(float(standing.limit_room[row])), limit.joint) if limit else (None, "")


def _known(value: float) -> float | None:
    return value if isfinite(value) else None


def range_table(record: RangeRecord) -> str:
    """The settings looked at as comma-separated text; lengths are never rounded up, and empty where there is none."""
    text = StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([*(f"{name}_{drive.unit}" for name, drive in record.drives.items()), *COLUMNS])
    for cell in record.cells:
        settings = [f"{value + 0.0:.{SETTING_DIGITS}g}" for value in cell.at.values()]
        usable, room, reserve = "yes" if cell.usable else "no", rounded_down(cell.room_mm), rounded_down(cell.reserve)
        writer.writerow([*settings, usable, cell.broken or "", room, cell.a, cell.b, reserve, cell.joint])
    return text.getvalue()
