"""A usable range over one drive as a curve: the margins, and where the range ends."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from assembly.record import RangeRecord
from assembly.report.charts.plotting import axis_label, shade
from assembly.report.charts.range_key import (
    BORDER,
    FILL,
    LABELS_APART,
    border_looks,
    border_number,
    explained_ends,
)
from assembly.report.render.palette import BLACK, LIGHT_GREY, WHITE

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes

MOST_STEPS = 12
"""Numbers that step down side by side before they begin at the top again."""


def draw_margins(axes: Axes, record: RangeRecord) -> Iterator[Artist]:
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
        ("margin of the nearest limit", "--", [cell.reserve for cell in record.cells]),
    ):
        if any(value is not None for value in values):
            known = np.array([np.nan if value is None else value for value in values])
            yield from axes.plot(
                [cell.at[name] for cell in record.cells], known, style, color=shade(BLACK), linewidth=1.6, label=label
            )
    _ends(axes, record)
    margin = 0.03 * (drive.to - drive.from_)
    axes.set(
        xlabel=axis_label(name, own.unit),
        ylabel="margin: mm of clearance; of a limit, in its own unit",
        xlim=(drive.from_ - margin, drive.to + margin),
    )
    axes.grid(color=shade(WHITE), linewidth=0.6)
    axes.set_axisbelow(True)


def _ends(axes: Axes, record: RangeRecord) -> None:
    """A line where the range ends over one drive, numbered if it is explained; numbers side by side step down."""
    (name,) = record.looked
    drive, looks = record.looked[name], border_looks(record)
    low, high = axes.get_ylim()
    listed = {governor.number for governor, _, _ in explained_ends(record)}
    last, steps = -np.inf, 0
    for stretch in sorted(record.stretches, key=lambda one: one.points[0][0]):
        at, look = stretch.points[0][0], looks[stretch.governor]
        axes.axvline(at, color=shade(look.colour), linewidth=BORDER, linestyle=look.dashes, zorder=3)
        if stretch.governor in listed:
            steps = (steps + 1) % MOST_STEPS if at - last < LABELS_APART * (drive.to - drive.from_) else 0
            border_number(axes, stretch.governor, look, (at, low + (0.93 - 0.06 * steps) * (high - low)))
            last = at
