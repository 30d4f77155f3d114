"""What the record of a sweep tells besides of cables, rods and wheels, as figures by names that runs share."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from assembly.record import (
    CableEntry,
    DriveEntry,
    PullEntry,
    Record,
    RoundedWord,
    Settings,
    SplitterEntry,
    WheelFigureEntry,
    WheelTables,
)

LOWEST_TOLD = 3
"""Parts that come lowest over the road."""


@dataclass(frozen=True, slots=True)
class ToldFigure:
    """A ``value`` by its ``name``, in ``unit``; null where there is none. ``at``: the setting of one of a table."""

    name: str
    unit: str
    value: float | None
    rounded: RoundedWord = "near"
    at: Settings = field(default_factory=dict)


def told_of_cables(record: Record) -> Iterator[ToldFigure]:
    """Lengths to cut, what each drive by itself pulls, and what of a force comes where."""
    if record.cables is not None:
        for cable in record.cables.cables:
            yield from _of_cable(cable, record.drives)
        for splitter in record.cables.splitters:
            yield from _of_splitter(splitter)


def _of_cable(cable: CableEntry, drives: Mapping[str, DriveEntry]) -> Iterator[ToldFigure]:
    hoses = [run for run in cable.runs if run.hose]
    for number, run in enumerate(hoses, 1):
        which = f" {number}" if len(hoses) > 1 else ""
        yield ToldFigure(f"{cable.name} outer{which}, to cut at least", "mm", run.to_cut, "up")
    yield ToldFigure(f"{cable.name} inner, to cut at least", "mm", cable.inner_to_cut, "up")
    for side in cable.sides:
        yield from _of_side(cable.name, side, drives[side.drive].unit)
    if cable.through_least is not None:
        told = f"{cable.name}, least share of a force that comes through its bends"
        yield ToldFigure(told, "%", 100 * cable.through_least, "down")


def _of_side(cable: str, side: PullEntry, unit: str) -> Iterator[ToldFigure]:
    where = f"with {side.drive} {'below' if side.to < 0 else 'above'} 0"
    yield ToldFigure(f"{cable}, pulled at most {where}", "mm", side.most, "up")
    yield ToldFigure(f"{cable}, acts from, {where}", unit, side.pulled_from)
    yield ToldFigure(f"{cable}, fully on from, {where}", unit, side.full_from)


def _of_splitter(one: SplitterEntry) -> Iterator[ToldFigure]:
    for end in one.ends:
        yield ToldFigure(f"{one.name}, force at {end.cable}", "N", end.force)
    yield ToldFigure(f"{one.name}, tilt of its beam at most", "deg", one.tilt_most, "up")


def told_of_rods(record: Record) -> Iterator[ToldFigure]:
    """Turns to the toe that is wanted, and of each rod what its first step does; the others are parts of it."""
    told = record.rods_turned
    if told is None:
        return
    for way in told.ways:
        for_toe = f"{told.more_mm:g} mm more of toe-in" if told.more_mm else "the toe that is wanted"
        yield ToldFigure(f"{' and '.join((way.rod, *way.also))} for {for_toe}", "turns", way.turns)
    for turned in told.turns:
        step = turned.steps[0]
        of = f"{'a turn' if step.turned == 'tube' else 'half a turn of an end'} of {turned.rod}"
        yield ToldFigure(f"{of} turns {turned.part} by", "deg", step.longer_deg)
        for one in turned.measures:
            yield ToldFigure(f"{of} adds to {one.measure}", one.unit, one.longer[0])


def told_of_wheels(record: Record) -> Iterator[ToldFigure]:
    """How wheels point at settings, where toe is set, how the frame stands at the ends, and turning circles."""
    told = record.wheels
    if told is None:
        return
    yield from _lean(told)
    yield ToldFigure("total toe that is wanted", "mm", told.toe_wanted)
    elsewhere = any(told.toe_set_at.values())
    yield from (_as_set(one) for one in told.figures if elsewhere or one.word == "total_toe_mm")
    yield from _over_settings(told)
    for one in told.turning:
        if told.steers is not None:
            yield ToldFigure(f"turning circle, {_end(told.steers, one.at)}", "mm", one.circle_mm)
    for low in told.lowest[:LOWEST_TOLD]:
        yield ToldFigure(f"lowest of {low.part} over the road", "mm", low.height_mm, "down")


def _lean(told: WheelTables) -> Iterator[ToldFigure]:
    for end in told.lean_ends if told.leans is not None else ():
        where = _end(told.leans or "", end.at)
        yield ToldFigure(f"lean of the frame, as a protractor shows it, {where}", "deg", end.lean)
        yield ToldFigure(f"pitch of the frame, {where}", "deg", end.pitch)


def _end(drive: str, at: Settings) -> str:
    """Which end of its drive a setting is; where that lies may be another in each run."""
    value = at[drive]
    return f"{drive} at {'0' if not value else 'its low end' if value < 0 else 'its high end'}"


def _as_set(one: WheelFigureEntry) -> ToldFigure:
    return ToldFigure(f"{one.name} where toe is set", one.unit, one.as_set)


def _over_settings(told: WheelTables) -> Iterator[ToldFigure]:
    """Toe and camber of the wheels of pairs over both drives, as the tables tell them."""
    for left, right in (one.of for one in told.figures if one.word == "total_toe"):
        both = f"{left} and {right}"
        single = (f"{name} {word}" for word in ("toe", "camber") for name in (left, right))
        for name in (f"{both} total toe", *single, f"{both} steered"):
            yield from _track(name, told)


def _track(name: str, told: WheelTables) -> Iterator[ToldFigure]:
    """One figure at every setting of the tables; the drives of the tables come first in each setting."""
    for at, value in zip(told.track.at, told.track.values[name], strict=True):
        leading = {drive: at[drive] for drive in told.track.along}
        yield ToldFigure(name, "deg", value, at={**leading, **at})
