"""How room and reserves went from run to run, as a picture: the newest run stands at the right, 0 is the rule."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from textwrap import fill, shorten
from typing import TYPE_CHECKING, Any

from assembly.report.charts.plotting import shade, sheet_for
from assembly.report.render.palette import (
    BAD,
    BLUE,
    BLUISH_GREEN,
    DARK_GREY,
    ORANGE,
    REDDISH_PURPLE,
    SKY_BLUE,
    VERMILION,
    Colour,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

INCHES = (13.0, 8.0)
COLOURS: tuple[Colour, ...] = (BLUE, ORANGE, BLUISH_GREEN, REDDISH_PURPLE, SKY_BLUE, DARK_GREY)
MARKERS = ("o", "s", "^", "D", "v", "P")
MOST_LINES = len(COLOURS)
"""More cannot be distinguished at a glance."""
APART = 0.125
"""Least distance of two labels, as a share of the panel's height."""
AIR = 0.12
"""Left free above and below the lines, as a share of the panel's height."""
FARTHEST = 3.0
"""Values this many times as far above 0 as the least ones of all lines are left above the panel."""
MOST_DATES = 12
EMPTY = 0.2
"""Height of a panel without lines, as a share of one with lines."""
LABEL_WIDTH, TITLE_WIDTH = 46, 110
LEADER: dict[str, Any] = {"arrowstyle": "-", "linewidth": 2.2, "shrinkA": 2, "shrinkB": 0, "relpos": (0, 0.5)}
"""The line from a label's left side to the end of its line."""
TOO_LOW: Colour = (251, 226, 214)


@dataclass(frozen=True, slots=True)
class TrendLine:
    """One value for each run, oldest first, None if the run had none; below 0 the rule is broken."""

    label: str
    now: str
    """The newest value as the builder says it."""
    values: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class TrendPanel:
    """Lines that share an axis, the worst first; ``without`` is said if there is none."""

    title: str
    axis: str
    too_low: str
    lines: tuple[TrendLine, ...]
    without: str


def draw_trend(title: str, runs: Sequence[str], panels: Sequence[TrendPanel], path: Path) -> None:
    """Draw the panels over ``runs``, named oldest first, into the PNG ``path``. Raises OutputError."""
    with sheet_for(path, INCHES) as sheet:
        sheet.suptitle(fill(title, TITLE_WIDTH))
        heights = [1.0 if panel.lines else EMPTY for panel in panels]
        rows = sheet.subplots(len(panels), 1, sharex=True, squeeze=False, height_ratios=heights)[:, 0]
        for axes, panel in zip(rows, panels, strict=True):
            _panel(axes, panel, len(runs))
        _dates(rows[-1], runs)


def _panel(axes: Axes, panel: TrendPanel, runs: int) -> None:
    axes.set_title(panel.title)
    axes.set_ylabel(panel.axis)
    axes.set_xlim(-0.3, runs - 0.9)
    axes.grid(axis="y")
    axes.set_axisbelow(True)
    lines = panel.lines[:MOST_LINES]
    if not lines:
        axes.set_ylabel("")
        axes.set_yticks([])
        axes.text(0.5, 0.5, panel.without, transform=axes.transAxes, ha="center", va="center")
        return
    low, high = _span(lines)
    axes.set_ylim(low, high)
    axes.axhspan(low, 0.0, color=shade(TOO_LOW), zorder=0)
    axes.axhline(0.0, color=shade(VERMILION), linewidth=2.2, zorder=2.5)
    axes.annotate(
        panel.too_low, (0, 0), (6, -5), xycoords=("axes fraction", "data"), textcoords="offset points",
        va="top", color=shade(BAD),
    )  # fmt: skip
    for index, line in enumerate(lines):
        _line(axes, line, index)
    _labels(axes, lines, (low, high))


def _span(lines: Sequence[TrendLine]) -> tuple[float, float]:
    """Lowest and highest value shown: always 0, the lowest of all, and the newest of every line."""
    values = [value for line in lines for value in line.values if value is not None]
    newest = [value for line in lines for value in _known(line)[-1:]]
    low = min(0.0, *values)
    high = max(0.0, *newest, min(max(values), FARTHEST * max(abs(low), *map(abs, newest))))
    air = AIR * (high - low or 1.0)
    return min(low - air, -1.5 * air), high + air


def _newest(line: TrendLine) -> tuple[float, float]:
    """Where the newest known value of a line stands: its run and the value."""
    known = [(run, value) for run, value in enumerate(line.values) if value is not None]
    return known[-1] if known else (0, 0.0)


def _known(line: TrendLine) -> list[float]:
    return [value for value in line.values if value is not None]


def _line(axes: Axes, line: TrendLine, index: int) -> None:
    """The worst line is the boldest; a run without a value leaves a gap."""
    axes.plot(
        range(len(line.values)),
        [float("nan") if value is None else value for value in line.values],
        color=shade(COLOURS[index]),
        marker=MARKERS[index],
        markersize=7,
        linewidth=3.2 if index == 0 else 1.8,
        zorder=3 + MOST_LINES - index,
    )


def _labels(axes: Axes, lines: Sequence[TrendLine], span: tuple[float, float]) -> None:
    """Each line's name and newest value beside its end, moved apart where they would meet; its leader ends there."""
    low, high = span
    ends = [((_known(line) or [0.0])[-1] - low) / (high - low) for line in lines]
    for index, place in enumerate(_spread(ends)):
        name = shorten(lines[index].label, LABEL_WIDTH, placeholder=" …")
        axes.annotate(
            f"{name}\n{lines[index].now}",
            _newest(lines[index]),
            (1.025, place),
            xycoords="data",
            textcoords="axes fraction",
            va="center",
            fontsize=11.5 if index == 0 else 10,
            annotation_clip=False,
            arrowprops={**LEADER, "color": shade(COLOURS[index])},
        )


def _spread(places: Sequence[float]) -> list[float]:
    """``places`` (shares of the height) moved up or down until each two are ``APART``, in the same order."""
    order = sorted(range(len(places)), key=places.__getitem__)
    spread = list(places)
    for below, above in pairwise(order):
        spread[above] = max(spread[above], spread[below] + APART)
    over = max(0.0, spread[order[-1]] - 1.0)
    ceiling = 1.0
    if over:
        for index in reversed(order):
            spread[index] = min(spread[index], ceiling)
            ceiling = spread[index] - APART
    return spread


def _dates(axes: Axes, runs: Sequence[str]) -> None:
    """The newest run always has its date."""
    step = -(-len(runs) // MOST_DATES)
    shown = sorted(range(len(runs) - 1, -1, -step))
    axes.set_xticks(shown, [runs[index] for index in shown])
