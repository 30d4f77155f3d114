"""The way from a rod's length of today to another: turns of its tube, or half turns of an end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import floor, isfinite

from assembly.errors import Fault, InputError
from assembly.kinematics.mechanism import Mechanism
from assembly.model.fault_list import nearest, shown
from assembly.model.machine import Machine
from assembly.model.rod_entries import threaded_rod_entry
from assembly.model.threaded_rod import GRAIN, ThreadedRod
from assembly.record import RodWayEntry, VerdictWord
from assembly.studies.rods.rod_figures import RodFigure, rod_figures, total_toe
from assembly.studies.rods.turning import with_longer

HALF = 0.5
FIRST_STEP = 0.1
"""mm by which a rod is made longer to see what it moves."""
LEAST_MOVED = 1e-9
CLOSE = 1e-7
"""mm or degrees within which a measure is as wanted."""
MOST_STEPS = 40
WHEELS = "declare them with [wheels.NAME], and put a left one beside a right one"


def way_to(rod: ThreadedRod, length: float) -> RodWayEntry:
    """How to turn ``rod`` to ``length`` mm from ball to ball, and what is in of its threads then.

    A tube with threads of two hands stands at any turn; an end is turned by halves, so that its bolt goes in again.
    InputError for a length that is none.
    """
    if not isfinite(length) or length <= 0:
        raise InputError(Fault(f"{length:g} mm is no length of a rod", hint="give mm from ball to ball"))
    change = length - rod.length
    end = rod.ends[rod.end_to_turn(change)]
    step = rod.per_turn if rod.opposite else HALF * end.pitch
    number = change / step
    settable = rod.opposite or abs(number - round(number)) * step < GRAIN
    low = floor(number + GRAIN / step)
    then = rod.at_length(length)
    verdict, why = _judged(then)
    first, second = (each.engaged for each in then.ends)
    return RodWayEntry(
        rod=rod.name,
        length_mm=length,
        change_mm=change,
        turned="tube" if rod.opposite else "end",
        joint="" if rod.opposite else end.joint,
        turns=number if rod.opposite else HALF * number,
        settable=settable,
        below_mm=length if settable else rod.length + low * step,
        above_mm=length if settable else rod.length + (low + 1) * step,
        engaged_mm=(first, second),
        verdict=verdict,
        why=why,
    )


def ways_to_value(
    machine: Machine, mechanism: Mechanism, rods: Sequence[ThreadedRod], wanted: tuple[str, float]
) -> tuple[RodWayEntry, ...]:
    """How to turn each of ``rods`` that moves a measure or the toe of wheels, alone, until that is as wanted.

    Measures with all drives at 0, toe where it is set. Raises InputError for one that does not exist, or one that none
    of them moves or brings there.
    """
    name, value = wanted
    figures = {one.name: one for one in rod_figures(machine)}
    if name not in figures:
        raise InputError(Fault(f"there is no measure {shown(name)}", hint=nearest(name, figures, "measures")))
    found = [_way_to_value(machine, mechanism, (rod,), figures[name], value) for rod in rods]
    moved = tuple(way for way in found if way is not None)
    if not moved:
        raise InputError(Fault(f"no rod that was asked for moves {shown(name)} with all drives at 0"))
    return moved


def ways_to_toe(
    machine: Machine, mechanism: Mechanism, rods: Sequence[ThreadedRod], wanted: float | None, more: float = 0.0
) -> tuple[RodWayEntry, ...]:
    """How to turn ``rods`` until the total toe of a pair is ``wanted`` mm; one and its twin by as much, others alone.

    ``more``: by how much more it is to be than today, where nothing is ``wanted``.

    Raises InputError where no wheels make a pair, or no rod moves its toe or brings it there.
    """
    if not total_toe(machine):
        raise InputError(Fault("the file has no left and right wheel whose toe could be set", hint=WHEELS))
    groups = [
        (rod, *(one for one in machine.rods.values() if one.twin_of == rod.name)) for rod in rods if not rod.twin_of
    ]
    groups += [(rod,) for rod in rods if rod.twin_of and not any(rod in group for group in groups)]
    aims = {one: (one.value_in(mechanism) or 0.0) + more if wanted is None else wanted for one in total_toe(machine)}
    found = [_way_to_value(machine, mechanism, group, *aim) for group in groups for aim in aims.items()]
    moved = tuple(way for way in found if way is not None)
    if not moved:
        raise InputError(Fault("no rod that was asked for moves the total toe of a pair"))
    return moved


def _way_to_value(
    machine: Machine, mechanism: Mechanism, group: Sequence[ThreadedRod], figure: RodFigure, wanted: float
) -> RodWayEntry | None:
    """The way by the first rod of a group, the others by as much; None where they do not move the figure."""
    (rod, *others), values = group, dict[float, float]()

    def missing(length: float) -> float:
        if length not in values:
            made = mechanism if length == rod.length else with_longer(machine, rod, length - rod.length, others)
            value = None if made is None else figure.value_in(made)
            if value is None:
                hint = f"it goes from {rod.least.length:z.2f} to {rod.apart:z.2f} mm; ask for a value that is nearer"
                told = f"no length of {shown(rod.name)} brings {shown(figure.name)} to {wanted:g}"
                raise InputError(Fault(told, hint=hint))
            values[length] = value
        return values[length] - wanted

    before, length = rod.length, rod.length + FIRST_STEP
    if abs(missing(length) - missing(before)) < LEAST_MOVED:
        return None
    for _ in range(MOST_STEPS):
        if abs(missing(length)) < CLOSE or missing(length) == missing(before):
            break
        step = missing(length) * (length - before) / (missing(length) - missing(before))
        before, length = length, min(max(length - step, rod.length / 2), rod.length * 2)
    if abs(missing(length)) >= CLOSE:
        hint = f"nearest found: {values[length]:.6g} at {length:z.2f} mm"
        raise InputError(Fault(f"no length of {shown(rod.name)} brings {shown(figure.name)} to {wanted:g}", hint=hint))
    way = way_to(rod, length)
    below, above = (missing(each) + wanted for each in (way.below_mm, way.above_mm))
    return replace(
        way,
        measure=figure.name,
        unit=figure.unit,
        wanted=wanted,
        below=below,
        above=above,
        where=figure.where,
        also=tuple(one.name for one in others),
        today=values[rod.length],
    )


def _judged(rod: ThreadedRod) -> tuple[VerdictWord | None, str]:
    """Whether the threads hold so, and what is against it."""
    for end in rod.ends:
        if end.engaged < GRAIN:
            return "fails", f"the thread at {end.joint} is out of the tube"
        if end.engaged > end.most + GRAIN:
            return "fails", f"only {end.most:z.2f} mm can be in at {end.joint}"
    if rod.least.length > rod.length + GRAIN:
        return "fails", rod.least.why
    entry = threaded_rod_entry(rod)
    for at, rule in entry.failing:
        asks = "asks that it is captive" if rule.required_mm is None else f"asks for {rule.required_mm:g} mm"
        return "fails", f"{at.engaged_mm:z.2f} mm are in at {at.joint}, and the rule {rule.rule} {asks}"
    return entry.verdict, ""
