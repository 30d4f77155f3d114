"""A usable range as a picture: the region, each stretch of its border by the number of what governs it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING, Any

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.record import RangeRecord, StretchEntry
from assembly.report.charts.plotting import axis_label, shade, sheet_for
from assembly.report.charts.range_curve import draw_margins
from assembly.report.charts.range_key import (
    FILL,
    LABELS_APART,
    BorderLook,
    border_looks,
    border_number,
    explain_ends,
    explained_ends,
    stroke_border,
)
from assembly.report.render.palette import (
    BLACK,
    DARK_GREY,
    LIGHT_GREY,
    MIDDLE_GREY,
    WHITE,
)
from assembly.report.text.range_text import range_answer
from assembly.report.text.words import setting

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes

INCHES = (13.0, 8.0)
WIDTHS = (1.55, 1.0)
"""Of the picture and of what explains it."""
HATCHES = {"pair": "///", "joint": "...", "measure": "ooo", "loop": "xxx"}
BROKEN = {
    "pair": "parts too near",
    "joint": "a joint past its limit",
    "measure": "a measure beyond its limit",
    "loop": "locks, or cannot be assembled",
}
CUT_OFF = "kept, but cut off from the zero position"
TITLE_WIDTH = 130


def draw_range(record: RangeRecord, path: Path) -> None:
    """Draw ``record`` into ``path`` (``.png`` or ``.svg``), in whole or not at all. Raises OutputError."""
    with sheet_for(path, INCHES) as sheet:
        axes, words = sheet.subplots(1, 2, width_ratios=WIDTHS)
        handles = list(draw_margins(axes, record) if len(record.looked) == 1 else _field(axes, record))
        held = f"; held: {setting(record.held, record.drives)}" if record.held else ""
        answer = next(range_answer(record)).text
        told = f"{record.machine.name}: where every rule is kept{held}"
        sheet.suptitle(f"{fill(answer, TITLE_WIDTH)}\n{fill(told, TITLE_WIDTH)}")
        explain_ends(words, record)
        sheet.legend(handles=handles, loc="outside lower center", ncols=4, frameon=False)


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
    looks = border_looks(record)
    for stretch in record.stretches:
        stroke_border(axes, np.array(stretch.points), looks[stretch.governor])
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


def _numbers(axes: Axes, record: RangeRecord, looks: dict[int, BorderLook]) -> None:
    """Each stretch's number at its middle, the longest first; one that would lie on another is left out.

    Those that are not explained beside the picture have none.
    """
    listed = {governor.number for governor, _, _ in explained_ends(record)}
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
        border_number(axes, stretch.governor, looks[stretch.governor], tuple(place * spans))


def _length(stretch: StretchEntry, spans: Floats) -> float:
    return float(np.linalg.norm(np.diff(np.array(stretch.points) / spans, axis=0), axis=1).sum())


def _middle(points: Floats) -> Floats:
    """Half the way along a line."""
    gone = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    return np.array([np.interp(gone[-1] / 2, gone, values) for values in points.T])
