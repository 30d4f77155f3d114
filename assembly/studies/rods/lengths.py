"""The way from a rod's length of today to another: turns of its tube, or half turns of an end."""

from __future__ import annotations

from math import floor, isfinite

from assembly.errors import Fault, InputError
from assembly.model.rod_entries import threaded_rod_entry
from assembly.model.threaded_rod import GRAIN, ThreadedRod
from assembly.record import RodWayEntry, VerdictWord

HALF = 0.5


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
