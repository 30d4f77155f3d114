"""Variants as a picture: the margin of the worst pair over what is varied, above 0 where the rule is kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING

from assembly.record import VariantEntry, VariantsRecord, VariedEntry
from assembly.report.charts.plotting import shade, sheet_for
from assembly.report.render.palette import BLUE, BLUISH_GREEN, DARK_GREY, LIGHT_GREY, ORANGE, VERMILION, WHITE, Colour
from assembly.report.text.variants_text import best_told
from assembly.report.text.words import below, figure, short

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.patches import Rectangle

INCHES = (13.0, 8.0)
TITLE_WIDTH = 110
MOST_PANELS = 4
MOST_CELLS = 900
"""Of a field: more cannot be told from each other."""
MOST_WRITTEN = 120
"""Cells of a field with their figures in them."""
MOST_OUTLINED = 12
"""Of a field: where more come first alike, none of them is brought out."""
PALE, MIDDLE, DEEP = 0.75, 0.5, 0.25
"""How far a colour is taken towards white, by the margin among the rows of one verdict."""
LEAST_SPAN = 0.2
"""mm between the palest and the deepest, at the least: less is no difference."""
TOO_LOW: Colour = (251, 226, 214)
MARGIN = "mm of clearance beyond what is required, worst pair"
NO_FIGURE = "no figure"


@dataclass(frozen=True, slots=True)
class _Mark:
    """How the rows of one verdict are drawn, and what that is called."""

    colour: Colour
    sign: str
    label: str


MARKS = {
    "clear": _Mark(BLUISH_GREEN, "o", "CLEAR"),
    "undecided": _Mark(ORANGE, "D", "UNDECIDED"),
    "fails": _Mark(VERMILION, "X", "FAILS"),
}


def draw_variants(record: VariantsRecord, path: Path) -> None:
    """Draw ``record`` into ``path`` (``.png`` or ``.svg``), in whole or not at all. Raises OutputError."""
    with sheet_for(path, INCHES) as sheet:
        sheet.suptitle(fill(f"{record.machine.name}: {best_told(record)}", TITLE_WIDTH))
        if len(record.varied) == 2 and (grid := _grid(record)) is not None:
            _field(sheet.subplots(), record, grid)
            return
        shown = record.varied[:MOST_PANELS]
        panels = sheet.subplots(1, len(shown), sharey=True, squeeze=False)[0]
        for axes, varied in zip(panels, shown, strict=True):
            _panel(axes, record, varied, alone=len(record.varied) == 1)
        panels[0].set_ylabel(MARGIN)
        panels[0].legend(loc="best", frameon=True)


def margin_drawn(entry: VariantEntry) -> float | None:
    """What is drawn of a row: what is proven of one that holds, else what was found; an overlap is below 0."""
    pair = entry.worst
    if entry.verdict == "clear" or pair is None or pair.least_mm is None:
        return entry.margin_mm
    return None if pair.found_mm is None else pair.found_mm - pair.required_mm


def _word(entry: VariantEntry) -> str:
    worst = [word for word in (entry.verdict, entry.stops_verdict) if word is not None]
    return next((word for word in ("fails", "undecided") if word in worst), "clear")


def _panel(axes: Axes, record: VariantsRecord, varied: VariedEntry, *, alone: bool) -> None:
    """Every row over one number; a line joins them where nothing else is varied."""
    rows = sorted(record.entries, key=lambda one: one.values.get(varied.name, varied.value))
    known = [(one.values.get(varied.name, varied.value), margin_drawn(one), _word(one)) for one in rows]
    if alone:
        line = [float("nan") if margin is None else margin for _, margin, _ in known]
        axes.plot([value for value, _, _ in known], line, color=shade(DARK_GREY), linewidth=1.4, zorder=2)
    for word, mark in MARKS.items():
        points = [(value, margin) for value, margin, own in known if own == word and margin is not None]
        if points:
            across, up = zip(*points, strict=True)
            axes.scatter(across, up, s=52, color=shade(mark.colour), marker=mark.sign, zorder=4, label=mark.label)
    lost = [value for value, margin, _ in known if margin is None]
    for number, value in enumerate(lost):
        label = "cannot be made or assembled, or not computed" if not number else None
        axes.axvline(value, color=shade(VERMILION), linestyle=":", linewidth=1.2, zorder=1, label=label)
    axes.axvline(varied.value, color=shade(BLUE), linewidth=1.2, zorder=1, label="as in the file")
    axes.axhline(0.0, color=shade(VERMILION), linewidth=2.0, zorder=3)
    low, high = axes.get_ylim()
    low = min(low, -0.06 * (high - low))
    axes.axhspan(low, 0.0, color=shade(TOO_LOW), zorder=0)
    axes.set_ylim(low, high)
    axes.set_xlabel(_label(varied))
    axes.grid(color=shade(LIGHT_GREY))
    axes.set_axisbelow(True)


def _label(varied: VariedEntry) -> str:
    return (
        f"{varied.name}, mm of washers" if varied.kind == "joint" else f"{varied.name} ({short(varied.value, 4)} now)"
    )


Grid = tuple[Sequence[float], Sequence[float], dict[tuple[float, float], VariantEntry]]


def _grid(record: VariantsRecord) -> Grid | None:
    """The values of both numbers, and the row at each place; None where rows do not fill most of it."""
    across, up = record.varied
    at = {(one.values.get(across.name, across.value), one.values.get(up.name, up.value)): one for one in record.entries}
    columns, lines = (sorted({place[axis] for place in at}) for axis in (0, 1))
    cells = len(columns) * len(lines)
    filled = min(len(columns), len(lines)) > 1 and 2 * len(at) > cells
    return (columns, lines, at) if filled and cells <= MOST_CELLS else None


def _field(axes: Axes, record: VariantsRecord, grid: Grid) -> None:
    """A cell for each row over two numbers, its margin written in it."""
    from matplotlib.patches import Patch

    columns, lines, at = grid
    across, up = record.varied
    best = record.best.rows if record.best is not None and record.best.verdict == "clear" else ()
    spans = {word: _span([one for one in at.values() if _word(one) == word]) for word in MARKS}
    for (x, y), entry in at.items():
        column, line = columns.index(x), lines.index(y)
        outlined = entry.number in best and len(best) <= MOST_OUTLINED
        span = _from_light(_word(entry), spans[_word(entry)])
        axes.add_patch(_cell(entry, column, line, span, best=outlined))
        if len(at) <= MOST_WRITTEN:
            margin = margin_drawn(entry)
            text = (NO_FIGURE if margin is None else figure(below(margin))) + ("\n(file)" if entry.number == 0 else "")
            axes.text(column, line, text, ha="center", va="center", zorder=5)
    axes.set(xlim=(-0.5, len(columns) - 0.5), ylim=(-0.5, len(lines) - 0.5), xlabel=_label(across), ylabel=_label(up))
    axes.set_xticks(*_ticks(columns))
    axes.set_yticks(*_ticks(lines))
    legend = [
        Patch(facecolor=_light(mark.colour, MIDDLE), label=f"{mark.label}{_told(_from_light(word, spans[word]))}")
        for word, mark in MARKS.items()
    ]
    legend += [Patch(facecolor=shade(WHITE), edgecolor=shade(BLUE), linewidth=2.5, label="best, or alike")]
    axes.figure.legend(handles=legend, loc="outside lower center", ncols=4, frameon=False, title=MARGIN)


def _span(rows: Sequence[VariantEntry]) -> tuple[float, float] | None:
    """The least and the largest margin of rows; None where none has a figure."""
    known = [margin for margin in map(margin_drawn, rows) if margin is not None]
    return (min(known), max(known)) if known else None


def _from_light(word: str, span: tuple[float, float] | None) -> tuple[float, float] | None:
    """The margins that are drawn lightest and darkest: dark is the best that holds and the worst that fails."""
    return span if span is None or word != "fails" else span[::-1]


def _told(span: tuple[float, float] | None) -> str:
    return "" if span is None else f", light to dark {figure(below(span[0]))} to {figure(below(span[1]))}"


def _cell(entry: VariantEntry, column: int, line: int, span: tuple[float, float] | None, *, best: bool) -> Rectangle:
    from matplotlib.patches import Rectangle

    margin = margin_drawn(entry)
    share = 0.0 if margin is None or span is None else abs(margin - span[0]) / max(abs(span[1] - span[0]), LEAST_SPAN)
    face = _light(MARKS[_word(entry)].colour, PALE - (PALE - DEEP) * share)
    edge, width = (shade(BLUE), 2.5) if best else (shade(WHITE), 1.0)
    return Rectangle(
        (column - 0.47, line - 0.47), 0.94, 0.94, facecolor=face, edgecolor=edge,
        linewidth=width, zorder=4 if best else 2,
    )  # fmt: skip


def _light(colour: Colour, towards_white: float) -> tuple[float, float, float]:
    """A colour on which figures can be read."""
    red, green, blue = (value + (1.0 - value) * towards_white for value in shade(colour))
    return red, green, blue


def _ticks(values: Sequence[float], most: int = 20) -> tuple[list[int], list[str]]:
    step = -(-len(values) // most)
    places = list(range(0, len(values), step))
    return places, [short(values[place], 4) for place in places]
