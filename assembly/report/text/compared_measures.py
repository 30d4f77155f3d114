"""What measures and other figures come to in two runs, in words."""

from __future__ import annotations

from collections.abc import Iterator

from assembly.record import AboutWord, Comparison, FigureChange, MeasureChange, MeasureValues
from assembly.report.text.layout import Line
from assembly.report.text.words import figure, never_less, never_more, unit_sign

HEADINGS: dict[AboutWord, str] = {
    "cables": "Lengths to cut, pulls and forces of cables",
    "rods": "What turning rods does, with all drives at 0 or where toe is set",
}
DIGITS = {"N": 1, "%": 1}
"""After the point, by unit; two where it is not named."""


def changed_measures(found: Comparison) -> Iterator[tuple[str, list[Line]]]:
    """Under each heading what measures, and figures that sweeps tell besides, were and are now."""
    yield "Measures that come to something else", [Line(_measure_changed(one), indent=1) for one in found.measures]
    for about, told in HEADINGS.items():
        yield told, [Line(_figure_changed(one), indent=1) for one in found.figures if one.about == about]


def _measure_changed(one: MeasureChange) -> str:
    """What a measure came to, and comes to now."""
    sign = unit_sign(one.unit)
    if one.before is None or one.now is None:
        side, when = (one.now, "new") if one.now else (one.before, "gone")
        return f"{one.name}: {when}, {_values(side, sign)}" if side else one.name
    return f"{one.name}: {_values(one.before, sign)}, now {_values(one.now, sign)}"


def _values(side: MeasureValues, sign: str) -> str:
    zero = "no value with all drives at 0" if side.zero is None else f"{figure(side.zero)}{sign} with all drives at 0"
    if side.least is None or side.most is None:
        return zero
    return f"{figure(side.least)} to {figure(side.most)}{sign} ({zero})"


def _figure_changed(one: FigureChange) -> str:
    """What a figure was, and is now."""
    return f"{one.name}: {_told(one, one.before)} → {_told(one, one.now)}"


def _told(one: FigureChange, value: float | None) -> str:
    if value is None:
        return "none"
    told = {"near": figure, "up": never_less, "down": never_more}[one.rounded](value, DIGITS.get(one.unit, 2))
    return f"{told}{unit_sign(one.unit)}"
