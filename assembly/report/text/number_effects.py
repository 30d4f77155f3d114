"""What numbers of the file do to a figure, by its slopes: ranked, as figures, and as what would help."""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Mapping, Sequence

from assembly.record import FigureEntry, GoverningEntry, NumberEntry, SlopeEntry
from assembly.report.text.words import MINUS, figure, short

LEAST_TOLD = 0.0005
"""A slope that is reported as 0.000."""
LEAST_HELP = 0.005
"""A gain that is reported as 0.00."""
HELPS_TOLD = 5

Gained = tuple[float | None, float | None]
"""What a figure gains for 1 more, and for 1 less, at all places that govern it; None if the machine is torn."""


def ranked(asked: FigureEntry, numbers: Mapping[str, NumberEntry]) -> Iterator[tuple[str, Gained]]:
    """Every number with an effect that can be reported, dimensions and lengths first, the largest effect first."""
    found = {name: gained_by(asked.places, name) for place in asked.places for name in _names(place)}
    told = [(name, gained) for name, gained in found.items() if effect_size(gained) >= LEAST_TOLD]
    yield from sorted(told, key=lambda each: (numbers[each[0]].kind == "point", -effect_size(each[1])))


def _names(place: GoverningEntry) -> list[str]:
    return [slope.number for slope in place.slopes]


def gained_by(places: Sequence[GoverningEntry], name: str) -> Gained:
    """What 1 more and 1 less of a number gains at the least of all places that govern alike."""
    slopes = [next((one for one in place.slopes if one.number == name), SlopeEntry(name, 0.0, 0.0)) for place in places]
    up, down = [one.up for one in slopes], [None if one.down is None else -one.down for one in slopes]
    return _least(up), _least(down)


def _least(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return min(known) if len(known) == len(values) else None


def effect_size(gained: Gained) -> float:
    """How large an effect is; one that tears the machine counts as 1."""
    return max(1.0 if value is None else abs(value) for value in gained)


def effect_told(value: float | None) -> str:
    """A gain or loss with its sign."""
    return "torn" if value is None else _signed(value, 3)


def _signed(value: float, digits: int) -> str:
    text = figure(value, digits)
    return text if text.startswith(MINUS) else f"+{text}"


def help_lines(asked: FigureEntry, numbers: Mapping[str, NumberEntry], most: int = HELPS_TOLD) -> tuple[str, ...]:
    """What gives a pair more clearance, the largest effect first: slopes at its worst place, a sentence each."""
    told = []
    for name, (up, down) in ranked(asked, numbers):
        gain = max(up or 0.0, down or 0.0)
        if gain >= LEAST_HELP:
            way = "more" if gain == up else "less"
            now = f"now {short(numbers[name].value)}{', by arithmetic' if numbers[name].worked_out else ''}"
            told.append(f"1 {way} of {name} ({now}) gives {_signed(gain, 2)} mm")
    if told:
        return tuple(told[:most])
    if not asked.places:
        return ("the nearest points show no direction: one part lies inside the other, or they only touch",)
    return ("no number of the file does: give what bears on it a name in [dimensions] and use it there",)


def help_caution(asked: FigureEntry, file: str) -> str:
    """That slopes are no advice, and what makes advice of them. ``file``: as it is typed."""
    pair = " ".join(map(shlex.quote, asked.names))
    wanted = "" if asked.verdict != "clear" else " --to MM"
    sweeps = f"swingroom helps {file} --pair {pair}{wanted}"
    return f"Slopes at that place, one number alone, not swept: no advice yet. `{sweeps}` sweeps what it offers."
