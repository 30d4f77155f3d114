"""The way from a rod's length of today to another: turns of its tube, or half turns of an end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import floor, isfinite

from assembly.errors import Fault, InputError
from assembly.kinematics.mechanism import Mechanism
from assembly.model.fault_list import nearest, shown
from assembly.model.machine import Machine
from assembly.model.measure import Measure
from assembly.model.rod_entries import threaded_rod_entry
from assembly.model.threaded_rod import GRAIN, ThreadedRod
from assembly.record import RodWayEntry, VerdictWord
from assembly.studies.rods.turning import value_of, with_longer

HALF = 0.5
FIRST_STEP = 0.1
"""mm by which a rod is made longer to see what it moves."""
LEAST_MOVED = 1e-9
CLOSE = 1e-7
"""mm or degrees within which a measure is as wanted."""
MOST_STEPS = 40


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
    """How to turn each of ``rods`` that moves a measure, alone, until that is as wanted with all drives at 0.

    Raises InputError for a measure that does not exist, or one that none of them moves or brings there.
    """
    name, value = wanted
    if name not in machine.measures:
        raise InputError(Fault(f"there is no measure {shown(name)}", hint=nearest(name, machine.measures, "measures")))
    measure = machine.measures[name]
    found = [_way_to_value(machine, mechanism, rod, measure, value) for rod in rods]
    moved = tuple(way for way in found if way is not None)
    if not moved:
        raise InputError(Fault(f"no rod that was asked for moves {shown(name)} with all drives at 0"))
    return moved


def _way_to_value(
    machine: Machine, mechanism: Mechanism, rod: ThreadedRod, measure: Measure, wanted: float
) -> RodWayEntry | None:
    """The way by one rod; None where it does not move the measure."""
    values: dict[float, float] = {}

    def missing(length: float) -> float:
        if length not in values:
            made = with_longer(machine, rod, length - rod.length) if length != rod.length else mechanism
            value = None if made is None else value_of(made, measure)
            if value is None:
                hint = f"it goes from {rod.least.length:z.2f} to {rod.apart:z.2f} mm; ask for a value that is nearer"
                told = f"no length of {shown(rod.name)} brings {shown(measure.name)} to {wanted:g}"
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
        raise InputError(Fault(f"no length of {shown(rod.name)} brings {shown(measure.name)} to {wanted:g}", hint=hint))
    way = way_to(rod, length)
    below, above = (missing(each) + wanted for each in (way.below_mm, way.above_mm))
    return replace(way, measure=measure.name, unit=measure.unit, wanted=wanted, below=below, above=above)


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
