"""What measures and other figures come to in two runs, in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from assembly.record import AboutWord, Comparison, FigureChange, MeasureChange, MeasureValues
from assembly.report.text.layout import Block, Heading, Line, Table
from assembly.report.text.wheel_tables_text import NOTHING, drive_words, short_value, signed_figure
from assembly.report.text.words import count, figure, never_less, never_more, setting, unit_sign

HEADINGS: dict[AboutWord, str] = {
    "cables": "Lengths to cut, pulls and forces of cables",
    "wheels": "Wheels against the road",
    "rods": "What turning rods does, with all drives at 0 or where toe is set",
}
DIGITS = {"N": 1, "%": 1}
"""After the point, by unit; two where it is not named."""


def changed_measures(found: Comparison) -> Iterator[tuple[str, list[Line]]]:
    """Under each heading what measures, and figures that sweeps tell besides, were and are now."""
    yield "Measures that come to something else", [Line(_measure_changed(one), indent=1) for one in found.measures]
    for about, told in HEADINGS.items():
        yield (
            told,
            [Line(text, indent=1) for text in _figures([one for one in found.figures if one.about == about], found)],
        )


def _figures(figures: Sequence[FigureChange], found: Comparison) -> Iterator[str]:
    """A line for each figure, and for each that is told over settings."""
    tables = _tables(figures)
    for one in figures:
        if not one.at:
            yield _figure_changed(one)
        elif one is tables[one.name][0]:
            yield _over_settings(tables[one.name], found)


def changed_tables(found: Comparison) -> Iterator[Block]:
    """Each figure over settings of which some changed, as a table: before and now where it is another, else now."""
    for name, every in _tables(found.figures).items():
        down, *others = [drive for drive in every[0].at if len({one.at[drive] for one in every}) > 1] or every[0].at
        across = others[0] if others else None
        cells = {(one.at[down], one.at[across] if across else None): _cell(one) for one in every}
        heads = dict.fromkeys(at for _, at in cells)
        told = "" if across is None else f", {down} down, {across} across"
        yield Heading(f"{name}, degrees: before → now where it is another{told}")
        columns = (down, *("" if head is None else drive_words(head, across or "", found.drives) for head in heads))
        rows = tuple(
            (drive_words(row, down, found.drives), *(cells.get((row, head), NOTHING) for head in heads))
            for row in dict.fromkeys(at for at, _ in cells)
        )
        yield Table(columns, rows, frozenset(columns))


def _tables(figures: Sequence[FigureChange]) -> dict[str, list[FigureChange]]:
    """Those that are told over settings, by name."""
    found: dict[str, list[FigureChange]] = {}
    for one in figures:
        if one.at:
            found.setdefault(one.name, []).append(one)
    return found


def _cell(one: FigureChange) -> str:
    was, is_ = short_value(one.before), short_value(one.now)
    if was == is_ and _is_another(one):
        was, is_ = (NOTHING if each is None else signed_figure(each) for each in (one.before, one.now))
    return f"{was}→{is_}" if _is_another(one) else is_


def _is_another(one: FigureChange) -> bool:
    return _told(one, one.before) != _told(one, one.now)


def _over_settings(every: Sequence[FigureChange], found: Comparison) -> str:
    """At how many settings a figure is another, and where it is most."""
    other = [one for one in every if _is_another(one)]
    most = max(every, key=lambda one: abs((one.now or 0.0) - (one.before or 0.0)))
    told = f"{most.name}: another at {len(other)} of {count(len(every), 'setting')}"
    return f"{told}, most at {setting(most.at, found.drives)}: {_told(most, most.before)} → {_told(most, most.now)}"


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
