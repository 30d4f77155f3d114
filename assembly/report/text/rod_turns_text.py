"""What a turn of a rod's tube or of its end does, in words: to a part that it turns, and to measures."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from assembly.record import LockEntry, RodMeasureEntry, RodStepEntry, RodTurnEntry, ThreadedRodEntry
from assembly.report.text.layout import Block, Heading, Line, Table
from assembly.report.text.words import figure, short, signed, unit_sign

FLATS = 6
NAMES = {1.0: "a turn", 0.5: "half a turn", 1.0 / FLATS: "a flat (60°)"}
HALF = NAMES[0.5]
LEAST_AXIS = 0.95
"""Of a direction along an axis: it is called by it."""
_SEEN = (("the front", "the rear"), ("the left", "the right"), ("above", "below"))


def turn_blocks(
    rod: ThreadedRodEntry, turned: RodTurnEntry, *, asked: bool, twins: Sequence[str] = ()
) -> Iterator[Block]:
    """What each step does; left out on one screen where turns to a length are told, not ``asked``.

    ``twins``: rods of the other side that do the same there.
    """
    what = f"what a turn of {rod.name} does{''.join(f', and one of {name} on its side' for name in twins)}"
    yield Heading(what.capitalize(), aside="" if asked else what, most=2)
    yield Line(_how_to_turn(rod), indent=1, brief=_how_to_turn(rod, briefly=True))
    seen = _seen_from(turned.about)
    sense = f" (+ is counter-clockwise seen from {seen})" if seen else ""
    if any(turned.about):
        brief = f"degrees of {turned.part}, all drives at 0{sense}:"
        yield Line(f"with all drives at 0 {turned.part} is turned by it, in degrees{sense}:", indent=1, brief=brief)
    columns = ("step", "mm", "longer", "shorter")
    yield Table(columns, tuple(map(_step_row, turned.steps)), frozenset(columns[1:]), row_is=("step", "steps"))
    yield from _measure_blocks(turned, ends=not rod.opposite)
    if turned.locks:
        longer = f"today, and with the rod {short(turned.locks_mm)} mm longer"
        yield Line(f"{turned.part} at the ends, {longer}: {'; '.join(map(_lock, turned.locks))}", indent=1)


def _measure_blocks(turned: RodTurnEntry, *, ends: bool) -> Iterator[Block]:
    """What each step adds to the measures of the file; of an end unbolted only where ``ends`` are what is turned."""
    if turned.measures:
        told = [number for number, step in enumerate(turned.steps) if ends or step.turned == "tube"]
        names = tuple(_step_name(turned.steps[number]) for number in told)
        rows = tuple(_measure_row(one, told) for one in turned.measures)
        figures = frozenset(("today", *names))
        yield Table(
            ("measure", "today", *names), rows, figures, row_is=("measure", "measures"), aside=frozenset((HALF,))
        )


def _measure_row(one: RodMeasureEntry, told: Sequence[int]) -> tuple[str, ...]:
    unit = unit_sign(one.unit)
    return one.measure, f"{figure(one.today)}{unit}", *(_grown(one.longer[number], unit) for number in told)


def _grown(value: float | None, unit: str) -> str:
    return "–" if value is None else f"{_degrees(value)}{unit}"


def _step_name(step: RodStepEntry) -> str:
    name = NAMES.get(step.turns, f"{short(step.turns)} turns")
    return name if step.turned == "tube" else f"{name} of an end"


def _how_to_turn(rod: ThreadedRodEntry, *, briefly: bool = False) -> str:
    if not rod.opposite:
        none = "turning its tube alters nothing" if not rod.per_turn_mm else "its tube gives fine steps"
        return f"threads of one hand: {none}; an end is unbolted and turned by halves, so that its bolt goes in again"
    right = next(end.joint for end in rod.ends if end.hand == "right")
    if briefly:
        return f"slacken both nuts; clockwise, seen from {right}, makes it longer"
    return f"slacken both nuts; the tube turned clockwise, seen from {right} along the rod, makes it longer"


def _seen_from(about: Sequence[float]) -> str:
    """From where a turn about a line is looked at, where it runs along an axis."""
    for number, share in enumerate(about):
        if abs(share) >= LEAST_AXIS:
            return _SEEN[number][share < 0]
    return ""


def _step_row(step: RodStepEntry) -> tuple[str, ...]:
    what = "of the tube" if step.turned == "tube" else f"of the end at {step.joint}, unbolted"
    name = NAMES.get(step.turns, f"{short(step.turns)} turns")
    return f"{name} {what}", figure(step.mm, 3), _degrees(step.longer_deg), _degrees(step.shorter_deg)


def _degrees(value: float | None) -> str:
    if value is None:
        return "does not go together"
    text = figure(value, 3)
    return text if value < 0 or not value else f"+{text}"


def _lock(lock: LockEntry) -> str:
    today, then = (_degrees(value) for value in (lock.today_deg, lock.longer_deg))
    return f"{lock.drive} {signed(lock.at)}: {today}°, {then}°"
