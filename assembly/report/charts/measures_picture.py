"""Measures along one or two drives as curves, with what they may be."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING

from assembly.record import MeasureEntry, MeasuresRecord, MeasureTrack
from assembly.report.charts.plotting import axis_label, shade, sheet_for
from assembly.report.charts.trend_picture import COLOURS, MARKERS
from assembly.report.render.palette import LIGHT_GREY, VERMILION
from assembly.report.text.measures_text import measures_headline
from assembly.report.text.words import setting

if TYPE_CHECKING:
    from matplotlib.axes import Axes

INCHES = (13.0, 8.0)
TITLE_WIDTH = 110
MOST_PANELS = 4
MOST_LINES = len(COLOURS)
NAN = float("nan")
LIMITS_APART, MOST_LIMITS = 0.05, 2
"""Share of a panel below which limits share their words; how many of them are named."""


def draw_measures(record: MeasuresRecord, path: Path, title: str = "") -> None:
    """Draw the track of ``record`` into ``path`` (``.png`` or ``.svg``), in whole or not at all. Raises OutputError."""
    track = record.track
    if track is None:
        raise ValueError("measures are drawn along drives only")
    panels = [[one] for one in record.measures[:MOST_PANELS]] if len(track.along) > 1 else _by_unit(record)
    with sheet_for(path, INCHES) as sheet:
        told = title or measures_headline(record).text
        sheet.suptitle(fill(f"{record.machine.name}: {told}", TITLE_WIDTH))
        columns = 1 if len(panels) == 1 else 2
        every = sheet.subplots(-(-len(panels) // columns), columns, squeeze=False).reshape(-1)
        for axes, measures in zip(every, panels, strict=False):
            _panel(axes, record, track, measures)
        for axes in every[len(panels) :]:
            axes.set_visible(False)


def _by_unit(record: MeasuresRecord) -> list[list[MeasureEntry]]:
    """The measures of each unit in one panel, or in more where they are too many."""
    panels = []
    for unit in dict.fromkeys(one.unit for one in record.measures):
        own = [one for one in record.measures if one.unit == unit]
        panels += [own[k : k + MOST_LINES] for k in range(0, len(own), MOST_LINES)]
    return panels[:MOST_PANELS]


def _panel(axes: Axes, record: MeasuresRecord, track: MeasureTrack, measures: list[MeasureEntry]) -> None:
    first, *others = track.along
    if others:
        _lines_of_second(axes, record, track, measures[0])
        axes.set_title(measures[0].name)
    else:
        across = [at[first] for at in track.at]
        for one, colour, marker in zip(measures, COLOURS, MARKERS, strict=False):
            values = _drawn(track.values[one.name])
            axes.plot(across, values, color=shade(colour), marker=marker, markersize=4, label=one.name)
    _limits(axes, measures)
    axes.set_xlabel(axis_label(first, record.drives[first].unit))
    axes.set_ylabel("degrees" if measures[0].unit == "deg" else "mm")
    axes.grid(color=shade(LIGHT_GREY))
    axes.set_axisbelow(True)
    axes.legend(loc="best", frameon=True)


def _limits(axes: Axes, measures: list[MeasureEntry]) -> None:
    """A line at each limit; those too near each other to be told side by side share their words."""
    limits = [
        (limit, f"{one.name}: {word}")
        for one in measures
        for limit, word in ((one.limit_low, "least"), (one.limit_high, "most"))
        if limit is not None
    ]
    for limit, _ in limits:
        axes.axhline(limit, color=shade(VERMILION), linestyle="--", linewidth=1.6)
    low, high = axes.get_ylim()
    groups: list[list[tuple[float, str]]] = []
    for limit, told in sorted(limits):
        if groups and limit - groups[-1][0][0] < LIMITS_APART * (high - low):
            groups[-1].append((limit, told))
        else:
            groups.append([(limit, told)])
    for group in groups:
        more = f" and {len(group) - MOST_LIMITS} more" if len(group) > MOST_LIMITS else ""
        words = "; ".join(told for _, told in group[:MOST_LIMITS]) + more
        place = (0.01, max(limit for limit, _ in group))
        axes.annotate(words, place, xycoords=("axes fraction", "data"), ha="left", va="bottom", fontsize=9)


def _drawn(values: Iterable[float | None]) -> list[float]:
    """Values with a gap in the line where there is none."""
    return [NAN if value is None else value for value in values]


def _lines_of_second(axes: Axes, record: MeasuresRecord, track: MeasureTrack, one: MeasureEntry) -> None:
    """A line for each setting of the second drive."""
    first, second = track.along
    rows = list(enumerate(track.at))
    for number, there in enumerate(sorted({at[second] for _, at in rows})):
        own = [row for row, at in rows if at[second] == there]
        values = _drawn(track.values[one.name][row] for row in own)
        told = setting({second: there}, record.drives)
        colour, marker = COLOURS[number % MOST_LINES], MARKERS[number % MOST_LINES]
        across = [track.at[row][first] for row in own]
        axes.plot(across, values, color=shade(colour), marker=marker, markersize=4, label=told)
