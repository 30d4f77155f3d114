"""A usable range as a picture: the region, each stretch of its border by the number of what governs it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING, Any

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.record import GovernorEntry, RangeRecord, StretchEntry
from assembly.report.charts.plotting import axis_label, shade, sheet_for
from assembly.report.render.palette import (
    BLACK,
    BLUE,
    BLUISH_GREEN,
    DARK_GREY,
    LIGHT_GREY,
    MIDDLE_GREY,
    ORANGE,
    REDDISH_PURPLE,
    SKY_BLUE,
    VERMILION,
    WHITE,
    Colour,
)
from assembly.report.text.range_text import rules_text
from assembly.report.text.words import setting

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes

INCHES = (13.0, 8.0)
WIDTHS = (1.55, 1.0)
"""Of the picture and of what explains it."""
BORDER, THIN = 4.5, 1.6
"""Widths of the border's lines, in points: thin where nothing was looked at beyond."""
COLOURS: tuple[Colour, ...] = (BLUE, VERMILION, BLUISH_GREEN, ORANGE, REDDISH_PURPLE, SKY_BLUE)
DASHES: tuple[Any, ...] = ("-", (0, (2.2, 0.7)), (0, (0.9, 0.6)), (0, (4, 0.7, 0.9, 0.7)))
ROUND = 12
"""Governors after which colours and dashes would come together again."""
FILL: Colour = (225, 240, 250)
HATCHES = {"pair": "///", "joint": "...", "measure": "ooo", "loop": "xxx"}
BROKEN = {
    "pair": "parts too near",
    "joint": "a joint past its limit",
    "measure": "a measure beyond its limit",
    "loop": "locks, or cannot be assembled",
}
CUT_OFF = "kept, but cut off from the zero position"
TITLE_WIDTH, LEGEND_WIDTH = 110, 52
LOWEST = 0.93
"""How far down of the picture the last explanation may begin."""
LABELS_APART = 0.045
"""Least distance of two numbers on the border, as a share of the picture."""


@dataclass(frozen=True, slots=True)
class _Look:
    """How the stretches of one governor are drawn."""

    colour: Colour
    dashes: Any


def draw_range(record: RangeRecord, path: Path) -> None:
    """Draw ``record`` into ``path`` (``.png`` or ``.svg``), in whole or not at all. Raises OutputError."""
    with sheet_for(path, INCHES) as sheet:
        axes, words = sheet.subplots(1, 2, width_ratios=WIDTHS)
        handles = list(_line(axes, record) if len(record.looked) == 1 else _field(axes, record))
        held = f"; held: {setting(record.held, record.drives)}" if record.held else ""
        sheet.suptitle(fill(f"{record.machine.name}: where every rule is kept{held}", TITLE_WIDTH))
        _explain(words, record)
        sheet.legend(handles=handles, loc="outside lower center", ncols=4, frameon=False)


def _look_of(governor: GovernorEntry) -> _Look:
    """Colours come round again with other dashes; where nothing was looked at beyond, black."""
    if not governor.rules:
        return _Look(DARK_GREY, DASHES[0])
    index = governor.number - 1
    return _Look(COLOURS[index % len(COLOURS)], DASHES[(index + index // ROUND) % len(DASHES)])


def _looks(record: RangeRecord) -> dict[int, _Look]:
    """By the number of each governor; those that are not explained beside the picture are grey and have no number."""
    listed = {governor.number for governor, _, _ in _explained(record)}
    plain = _Look(DARK_GREY, DASHES[1])
    return {one.number: _look_of(one) if one.number in listed else plain for one in record.governors}


def _explained(record: RangeRecord) -> list[tuple[GovernorEntry, str, float]]:
    """As many governors as have a place beside the picture, the first ones: each with its words and how far down."""
    told, height = [], 0.075
    for governor in record.governors:
        text = fill(rules_text(governor), LEGEND_WIDTH)
        told.append((governor, text, height))
        height += 0.024 * (text.count("\n") + 1) + 0.026
        if height > LOWEST:
            break
    return told


def _field(axes: Axes, record: RangeRecord) -> Iterator[Artist]:
    """The region over two drives; gives what the legend explains."""
    from matplotlib.patches import Patch, PathPatch
    from matplotlib.path import Path as Outline

    across, up = record.looked
    axes.set_facecolor(shade(LIGHT_GREY))
    yield from _hatched(axes, record)
    lines: dict[int, list[StretchEntry]] = {}
    for stretch in record.stretches:
        lines.setdefault(stretch.line, []).append(stretch)
    outlines = [_closed(stretches) for stretches in lines.values()]
    if outlines:
        whole = Outline.make_compound_path(*(Outline(points, closed=True) for points in outlines))
        axes.add_patch(PathPatch(whole, facecolor=shade(FILL), edgecolor="none", zorder=2))
        yield Patch(facecolor=shade(FILL), edgecolor=shade(MIDDLE_GREY), label="usable: every rule is kept")
    looks = _looks(record)
    for stretch in record.stretches:
        _stroke(axes, np.array(stretch.points), looks[stretch.governor])
    yield _own_range(axes, record)
    yield _rest(axes)
    axes.grid(color=shade(WHITE), linewidth=0.6)
    for name, limits in ((across, axes.set_xlim), (up, axes.set_ylim)):
        drive = record.looked[name]
        margin = 0.03 * (drive.to - drive.from_)
        limits(drive.from_ - margin, drive.to + margin)
    axes.set(xlabel=axis_label(across, record.drives[across].unit), ylabel=axis_label(up, record.drives[up].unit))
    axes.set_axisbelow(True)
    _numbers(axes, record, looks)


def _closed(stretches: Sequence[StretchEntry]) -> Floats:
    """The points of a closed line of the border, its stretches being in their order."""
    left = list(stretches)
    line = [left.pop(0)]
    while left:
        end = np.array(line[-1].points[-1])
        line.append(left.pop(int(np.argmin([np.abs(np.array(one.points[0]) - end).sum() for one in left]))))
    points = np.concatenate([np.array(stretch.points) for stretch in line])
    return np.concatenate([points, points[:1]])


def _stroke(axes: Axes, points: Floats, look: _Look) -> None:
    width = THIN if look.colour is DARK_GREY else BORDER
    axes.plot(*points.T, color="white", linewidth=width + 2.5, solid_capstyle="butt", zorder=3)
    axes.plot(*points.T, color=shade(look.colour), linewidth=width, linestyle=look.dashes, zorder=4)


def _hatched(axes: Axes, record: RangeRecord) -> Iterator[Artist]:
    """Hatch the settings that are not usable by the kind of rule that is broken there."""
    from matplotlib.collections import PatchCollection
    from matplotlib.patches import Patch, Rectangle

    edges = [_edges(record, name) for name in record.looked]
    for kind in (*HATCHES, None):
        cells = [cell for cell in record.cells if not cell.usable and cell.broken == kind]
        boxes = []
        for cell in cells:
            (left, right), (low, high) = (
                spans[cell.at[name]] for name, spans in zip(record.looked, edges, strict=True)
            )
            boxes.append(Rectangle((left, low), right - left, high - low))
        if boxes:
            hatch = HATCHES[kind] if kind else ""
            ground = LIGHT_GREY if kind else WHITE
            style: dict[str, Any] = {
                "facecolor": shade(ground),
                "edgecolor": shade(MIDDLE_GREY),
                "hatch": hatch,
                "linewidth": 0.0,
            }
            axes.add_collection(PatchCollection(boxes, zorder=1, **style))
            yield Patch(**{**style, "linewidth": 0.5, "label": BROKEN[kind] if kind else CUT_OFF})


def _edges(record: RangeRecord, name: str) -> dict[float, tuple[float, float]]:
    """The cell round each setting of a drive."""
    values = sorted({cell.at[name] for cell in record.cells})
    middles = [(one + other) / 2 for one, other in pairwise(values)]
    return dict(zip(values, zip([values[0], *middles], [*middles, values[-1]], strict=True), strict=True))


def _own_range(axes: Axes, record: RangeRecord) -> Artist:
    """The file's own range as a frame."""
    from matplotlib.patches import Rectangle

    across, up = (record.drives[name] for name in record.looked)
    style: dict[str, Any] = {"fill": False, "edgecolor": shade(BLACK), "linewidth": 1.8, "linestyle": (0, (6, 3))}
    label = "the range that the file has"
    frame = Rectangle((across.from_, up.from_), across.to - across.from_, up.to - up.from_, zorder=5, **style)
    frame.set_label(label)
    axes.add_patch(frame)
    return frame


def _rest(axes: Axes) -> Artist:
    (mark,) = axes.plot(0.0, 0.0, "P", ms=11, color=shade(DARK_GREY), mec="white", label="all at 0", zorder=5)
    mark.set_linestyle("none")
    return mark


def _numbers(axes: Axes, record: RangeRecord, looks: dict[int, _Look]) -> None:
    """Each stretch's number at its middle, the longest first; one that would lie on another is left out.

    Those that are not explained beside the picture have none.
    """
    listed = {governor.number for governor, _, _ in _explained(record)}
    spans = np.array([drive.to - drive.from_ for drive in record.looked.values()])
    taken: list[Floats] = []
    drawn: set[int] = set()
    numbered = [stretch for stretch in record.stretches if stretch.governor in listed]
    for stretch in sorted(numbered, key=lambda one: -_length(one, spans)):
        place = _middle(np.array(stretch.points) / spans)
        near = any(np.linalg.norm(place - other) < LABELS_APART for other in taken)
        if near and stretch.governor in drawn:
            continue
        taken.append(place)
        drawn.add(stretch.governor)
        _number(axes, stretch.governor, looks[stretch.governor], tuple(place * spans))


def _number(axes: Axes, number: int, look: _Look, at: tuple[float, ...]) -> None:
    axes.text(
        at[0],
        at[1],
        str(number),
        ha="center",
        va="center",
        fontsize=12,
        bbox={"boxstyle": "circle,pad=0.25", "facecolor": "white", "edgecolor": shade(look.colour), "linewidth": 2.2},
        zorder=6,
    )


def _length(stretch: StretchEntry, spans: Floats) -> float:
    return float(np.linalg.norm(np.diff(np.array(stretch.points) / spans, axis=0), axis=1).sum())


def _middle(points: Floats) -> Floats:
    """Half the way along a line."""
    gone = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    return np.array([np.interp(gone[-1] / 2, gone, values) for values in points.T])


def _explain(axes: Axes, record: RangeRecord) -> None:
    """What each number stands for, with its line."""
    axes.set_axis_off()
    axes.set(xlim=(0, 1), ylim=(1, 0))
    axes.text(0.0, 0.02, "What ends the usable range", fontsize=13, va="center")
    listed = _explained(record)
    for governor, text, height in listed:
        look = _look_of(governor)
        _stroke(axes, np.array([[0.0, height], [0.14, height]]), look)
        _number(axes, governor.number, look, (0.07, height))
        axes.text(0.18, height - 0.012, text, va="top", fontsize=10)
    if len(record.governors) > len(listed):
        more = f"{len(record.governors) - len(listed)} more, the grey lines without a number: see the report"
        axes.text(0.0, 0.99, more, va="center", fontsize=10)


def _line(axes: Axes, record: RangeRecord) -> Iterator[Artist]:
    """What is left of the rules over one drive; gives what the legend explains."""
    (name,) = record.looked
    drive, own = record.looked[name], record.drives[name]
    axes.set_facecolor(shade(LIGHT_GREY))
    axes.axhline(0.0, color=shade(BLACK), linewidth=1.0)
    ends = sorted(stretch.points[0][0] for stretch in record.stretches)
    for low, high in pairwise(ends):
        yield axes.axvspan(low, high, color=shade(FILL), label="usable: every rule is kept")
    yield axes.axvspan(
        own.from_, own.to, fill=False, linestyle=(0, (6, 3)), lw=1.8, label="the range that the file has"
    )
    for label, style, values in (
        ("clearance beyond what is required, mm", "-", [cell.room_mm for cell in record.cells]),
        ("margin of the nearest joint limit", "--", [cell.reserve for cell in record.cells]),
    ):
        if any(value is not None for value in values):
            known = np.array([np.nan if value is None else value for value in values])
            yield from axes.plot(
                [cell.at[name] for cell in record.cells], known, style, color=shade(BLACK), linewidth=1.6, label=label
            )
    low, high = axes.get_ylim()
    looks = _looks(record)
    for stretch in record.stretches:
        at, look = stretch.points[0][0], looks[stretch.governor]
        axes.axvline(at, color=shade(look.colour), linewidth=BORDER, linestyle=look.dashes, zorder=3)
        _number(axes, stretch.governor, look, (at, low + 0.9 * (high - low)))
    margin = 0.03 * (drive.to - drive.from_)
    axes.set(xlabel=axis_label(name, own.unit), ylabel="margin", xlim=(drive.from_ - margin, drive.to + margin))
    axes.grid(color=shade(WHITE), linewidth=0.6)
    axes.set_axisbelow(True)
