"""What was found of the usable range, and the record of it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from assembly.clearance.region.border import Stretch
from assembly.clearance.region.close_in import PRECISION
from assembly.clearance.region.rules import NONE, Rule, RuleKind, Standing
from assembly.clearance.region.trade_off import End, Stops
from assembly.clearance.region.usable import Crossings, UsableRegion
from assembly.kinematics.mechanism import settings_of
from assembly.model.machine import Machine
from assembly.record import (
    BreachEntry,
    FarthestEntry,
    GovernorEntry,
    RangeCell,
    RangeRecord,
    RuleEntry,
    StillEntry,
    StopsEntry,
    StretchEntry,
    UnsettledEntry,
)
from assembly.studies.shared import drive_entries, finite, machine_entry

MAIN_SHARE = 0.25
"""Of the places on a stretch, for a side to be named."""


@dataclass(frozen=True, slots=True, eq=False)
class Governor:
    """What ends one stretch of the border or several: ``rules`` together, none at the end of what was looked at."""

    rules: tuple[RuleEntry, ...]
    stretches: tuple[Stretch, ...]


@dataclass(frozen=True, slots=True, eq=False)
class RangeFound:
    """The usable range of ``machine`` as the file has it; those that govern most of the border come first."""

    machine: Machine
    rules: tuple[Rule, ...]
    region: UsableRegion
    crossings: Crossings
    governors: tuple[Governor, ...]
    stops: tuple[Stops, ...]
    still: tuple[StillEntry, ...]
    """Pairs that never move and are too near, and how many never move."""
    still_pairs: int
    breaches: tuple[BreachEntry, ...]
    unsettled: tuple[UnsettledEntry, ...] = ()
    """Pairs that are no rule here, since no roll was found for a part with ``roll = "some"``."""


def range_record(found: RangeFound) -> RangeRecord:
    """The record of one usable range."""
    machine, grid = found.machine, found.region.grid
    names = [list(machine.drives)[axis] for axis in grid.free]
    kinds = Counter(rule.kind for rule in found.rules)
    own, still = found.region.usable.reshape(-1)[grid.own], found.still
    holds = found.region.standing.worst[grid.own] == NONE
    return RangeRecord(
        machine=machine_entry(machine),
        drives=drive_entries(machine),
        looked={name: drive for name, drive in drive_entries(machine.widened).items() if name in names},
        steps=dict(zip(names, grid.steps, strict=True)),
        held=dict(grid.held),
        precision=PRECISION,
        pairs=kinds[RuleKind.PAIR],
        limits=kinds[RuleKind.JOINT],
        measures=kinds[RuleKind.MEASURE],
        fits=bool(own.all()) and not still and not found.unsettled,
        breaches=found.breaches,
        islands=int((holds & ~own).sum()),
        governors=tuple(GovernorEntry(number, one.rules) for number, one in enumerate(found.governors, 1)),
        stretches=_stretches(found),
        stops=_stops(found),
        cells=_cells(found),
        still_pairs=found.still_pairs,
        still=still,
        unsettled=found.unsettled,
    )


def rule_entry(rule: Rule) -> RuleEntry:
    """A rule by its names and numbers."""
    if rule.pair is not None:
        return RuleEntry("pair", a=rule.pair.a, b=rule.pair.b, required_mm=rule.pair.required)
    if rule.limit is not None:
        motion, low, high = rule.limit.motion, finite(rule.limit.low), finite(rule.limit.high)
        if rule.kind is RuleKind.MEASURE:
            return RuleEntry("measure", joint=rule.limit.joint, unit=motion.unit, low=low, high=high)
        return RuleEntry("joint", joint=rule.limit.joint, motion=motion.name, unit=motion.unit, low=low, high=high)
    return RuleEntry("loop")


def _stretches(found: RangeFound) -> tuple[StretchEntry, ...]:
    drives, crossings = list(found.machine.drives), found.crossings
    entries = []
    for number, governor in enumerate(found.governors, 1):
        for stretch in governor.stretches:
            sides = _sides(drives, Counter((int(crossings.axis[k]), int(crossings.way[k])) for k in stretch.places))
            points = tuple(tuple(float(value) for value in point) for point in stretch.points)
            entries.append(StretchEntry(number, sides, stretch.loop, points))
    return tuple(entries)


def _sides(drives: Sequence[str], bounded: Counter[tuple[int, int]]) -> tuple[tuple[str, Literal["low", "high"]], ...]:
    """Ends of drives that a good share of a stretch bounds, the largest first."""
    least = MAIN_SHARE * bounded.total()
    return tuple((drives[axis], "high" if way > 0 else "low") for (axis, way), n in bounded.most_common() if n >= least)


def _stops(found: RangeFound) -> tuple[StopsEntry, ...]:
    drives = list(found.machine.drives)
    governs = {
        place: number
        for number, governor in enumerate(found.governors, 1)
        for stretch in governor.stretches
        for place in stretch.places
    }

    def entry(end: End) -> FarthestEntry:
        return FarthestEntry(end.value, governs[end.crossing])

    def row(one: Stops) -> StopsEntry:
        low, high = (None, None) if one.ends is None else map(entry, one.ends)
        return StopsEntry(drives[one.axis], one.low, one.high, drives[one.other], low, high)

    return tuple(map(row, found.stops))


def _cells(found: RangeFound) -> tuple[RangeCell, ...]:
    standing, usable = found.region.standing, found.region.usable.reshape(-1).tolist()
    worst = standing.worst.tolist()
    return tuple(
        RangeCell(
            settings_of(found.machine, tuple(setting)),
            usable[row],
            found.rules[worst[row]].kind.value if worst[row] >= 0 else None,
            *_pair_at(found, standing, row),
            *_joint_at(found, standing, row),
        )
        for row, setting in enumerate(standing.settings.tolist())
    )


def _pair_at(found: RangeFound, standing: Standing, row: int) -> tuple[float | None, str, str]:
    pair = found.rules[standing.pair[row]].pair if standing.reached[row] and standing.pair[row] >= 0 else None
    return (finite(float(standing.pair_room[row])), pair.a, pair.b) if pair else (None, "", "")


def _joint_at(found: RangeFound, standing: Standing, row: int) -> tuple[float | None, str]:
    limit = found.rules[standing.limit[row]].limit if standing.reached[row] and standing.limit[row] >= 0 else None
    return (finite(float(standing.limit_room[row])), limit.joint) if limit else (None, "")
