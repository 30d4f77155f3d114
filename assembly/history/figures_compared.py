"""What sweeps tell besides in two runs, of cables and of turning rods: each figure that is known to be another."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from assembly.record import (
    AboutWord,
    CableEntry,
    DriveEntry,
    FigureChange,
    PullEntry,
    Record,
    RoundedWord,
    SplitterEntry,
)

SEEN = {"deg": 0.02, "mm": 0.02, "N": 0.1, "%": 0.1, "turns": 0.005}
"""The smallest change of a figure that is reported, by its unit: bounds are known to a hundredth, found and proven."""


@dataclass(frozen=True, slots=True)
class _Figure:
    name: str
    unit: str
    value: float | None
    rounded: RoundedWord = "near"


def changed_figures(before: Record, now: Record) -> Iterator[FigureChange]:
    """Every figure that changed; none of what one of both runs does not tell at all, as one of an older version."""
    if before.cables is not None and now.cables is not None:
        yield from _changed("cables", _of_cables(before), _of_cables(now))
    if before.rods_turned is not None and now.rods_turned is not None:
        yield from _changed("rods", _of_rods(before), _of_rods(now))


def _changed(about: AboutWord, before: Iterator[_Figure], now: Iterator[_Figure]) -> Iterator[FigureChange]:
    old, new = ({(one.name, one.unit): one for one in every} for every in (before, now))
    for key in dict.fromkeys((*new, *old)):
        of = new.get(key) or old[key]
        was, is_ = (one.value if one else None for one in (old.get(key), new.get(key)))
        if _differ(was, is_, of.unit):
            yield FigureChange(about, of.name, of.unit, was, is_, of.rounded)


def _differ(was: float | None, is_: float | None, unit: str) -> bool:
    """Whether a figure is known to be another."""
    if was is None or is_ is None:
        return was is not is_
    return abs(is_ - was) >= SEEN[unit]


def _of_cables(record: Record) -> Iterator[_Figure]:
    if record.cables is not None:
        for cable in record.cables.cables:
            yield from _of_cable(cable, record.drives)
        for splitter in record.cables.splitters:
            yield from _of_splitter(splitter)


def _of_cable(cable: CableEntry, drives: Mapping[str, DriveEntry]) -> Iterator[_Figure]:
    hoses = [run for run in cable.runs if run.hose]
    for number, run in enumerate(hoses, 1):
        which = f" {number}" if len(hoses) > 1 else ""
        yield _Figure(f"{cable.name} outer{which}, to cut at least", "mm", run.to_cut, "up")
    yield _Figure(f"{cable.name} inner, to cut at least", "mm", cable.inner_to_cut, "up")
    for side in cable.sides:
        yield from _of_side(cable.name, side, drives[side.drive].unit)
    if cable.through_least is not None:
        told = f"{cable.name}, least share of a force that comes through its bends"
        yield _Figure(told, "%", 100 * cable.through_least, "down")


def _of_side(cable: str, side: PullEntry, unit: str) -> Iterator[_Figure]:
    where = f"with {side.drive} {'below' if side.to < 0 else 'above'} 0"
    yield _Figure(f"{cable}, pulled at most {where}", "mm", side.most, "up")
    yield _Figure(f"{cable}, acts from, {where}", unit, side.pulled_from)
    yield _Figure(f"{cable}, fully on from, {where}", unit, side.full_from)


def _of_splitter(one: SplitterEntry) -> Iterator[_Figure]:
    for end in one.ends:
        yield _Figure(f"{one.name}, force at {end.cable}", "N", end.force)
    yield _Figure(f"{one.name}, tilt of its beam at most", "deg", one.tilt_most, "up")


def _of_rods(record: Record) -> Iterator[_Figure]:
    """Of each rod what its first step does; the others are parts of it."""
    told = record.rods_turned
    if told is None:
        return
    for turned in told.turns:
        step = turned.steps[0]
        of = f"{'a turn' if step.turned == 'tube' else 'half a turn of an end'} of {turned.rod}"
        yield _Figure(f"{of} turns {turned.part} by", "deg", step.longer_deg)
        for one in turned.measures:
            yield _Figure(f"{of} adds to {one.measure}", one.unit, one.longer[0])
    for way in told.ways:
        for_toe = f"{told.more_mm:g} mm more of toe-in" if told.more_mm else "the toe that is wanted"
        yield _Figure(f"{' and '.join((way.rod, *way.also))} for {for_toe}", "turns", way.turns)
