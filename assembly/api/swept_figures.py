"""What the record of a sweep tells besides of the other numbers that move with the same points.

Those of wheels, cables, and rods that are screwed together.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TypeVar

from assembly.clearance.proof.cached import FiguresCache
from assembly.clearance.proof.known_measures import motion_key
from assembly.errors import TimeLimitError
from assembly.kinematics.mechanism import Mechanism
from assembly.record import CablesEntry, FindingEntry, Record, RodsTurnedEntry
from assembly.studies.cabling import cables_entry
from assembly.studies.rods.rods_study import rods_turned
from assembly.studies.rods.turning import length_number
from assembly.studies.wheels.wheels_study import WheelWish, wheel_tables

Told = TypeVar("Told")


def with_figures(record: Record, mechanism: Mechanism, cache: FiguresCache | None) -> Record:
    """The record of a sweep of ``mechanism`` with tables of its wheels, lengths of its cables, and turns of its rods.

    What there was no time for is told as a finding. ``cache``: what is known of cables and rods, which hang on no
    solid, and where what is found of them is kept.
    """
    for name, add in (("wheels", _with_wheels), ("cables", _with_cables), ("rods", _with_rods)):
        try:
            record = add(record, mechanism, cache)
        except TimeLimitError:
            told = f"there was no time left for what a sweep tells of {name}: `swingroom {name}` tells it"
            record = replace(record, findings=(*record.findings, FindingEntry("note", name, told)))
    return record


def _with_wheels(record: Record, mechanism: Mechanism, _: FiguresCache | None) -> Record:
    if not mechanism.machine.running.wheels:
        return record
    return replace(record, wheels=wheel_tables(mechanism, WheelWish()))


def _with_cables(record: Record, mechanism: Mechanism, cache: FiguresCache | None) -> Record:
    """From the brackets of the sweep, so that little is computed anew."""
    machine = mechanism.machine
    if not machine.cables.cables:
        return record
    asked = machine.cables, machine.measures, machine.drives, record.measures
    found = {one.name: one for one in record.measures}
    key = motion_key(mechanism, "cables", asked)
    return replace(record, cables=_known(cache, key, CablesEntry, lambda: cables_entry(mechanism, found)))


def _with_rods(record: Record, mechanism: Mechanism, cache: FiguresCache | None) -> Record:
    machine = mechanism.machine
    if not machine.rods:
        return record
    numbers = [length_number(machine, rod) for rod in machine.rods.values()]
    asked = machine.rods, numbers, machine.measures, machine.running, machine.drives
    key = motion_key(mechanism, "turns of rods", asked)
    return replace(record, rods_turned=_known(cache, key, RodsTurnedEntry, lambda: rods_turned(mechanism)))


def _known(cache: FiguresCache | None, key: str, kind: type[Told], made: Callable[[], Told]) -> Told:
    """What is known by ``key``, else what is ``made``, which then is kept."""
    if cache is None:
        return made()
    known = cache.look_up_figures([key], kind).get(key)
    if known is None:
        known = made()
        cache.keep_figures({key: known})
    return known
