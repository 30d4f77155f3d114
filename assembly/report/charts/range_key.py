"""What ends a usable range, as its picture draws it: lines by number, and what each number stands for."""

from __future__ import annotations

from dataclasses import dataclass
from textwrap import fill
from typing import TYPE_CHECKING, Any

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.record import GovernorEntry, RangeRecord
from assembly.report.charts.plotting import shade
from assembly.report.render.palette import (
    BLUE,
    BLUISH_GREEN,
    DARK_GREY,
    ORANGE,
    REDDISH_PURPLE,
    SKY_BLUE,
    VERMILION,
    Colour,
)
from assembly.report.text.range_text import rules_text
from assembly.report.text.words import signed, unit_sign

if TYPE_CHECKING:
    from matplotlib.axes import Axes

BORDER, THIN = 4.5, 1.6
"""Widths of the border's lines, in points: thin where nothing was looked at beyond."""
COLOURS: tuple[Colour, ...] = (BLUE, VERMILION, BLUISH_GREEN, ORANGE, REDDISH_PURPLE, SKY_BLUE)
DASHES: tuple[Any, ...] = ("-", (0, (2.2, 0.7)), (0, (0.9, 0.6)), (0, (4, 0.7, 0.9, 0.7)))
ROUND = 12
"""Governors after which colours and dashes would come together again."""
LEGEND_WIDTH = 52
LABELS_APART = 0.045
"""Least distance of two numbers on the border, as a share of the picture."""
FILL: Colour = (225, 240, 250)
"""Of what is usable."""
LOWEST = 0.93
"""How far down of the picture the last explanation may begin."""


@dataclass(frozen=True, slots=True)
class BorderLook:
    """How the stretches of one governor are drawn."""

    colour: Colour
    dashes: Any


def border_look(governor: GovernorEntry) -> BorderLook:
    """Colours come round again with other dashes; where nothing was looked at beyond, black."""
    if not governor.rules:
        return BorderLook(DARK_GREY, DASHES[0])
    index = governor.number - 1
    return BorderLook(COLOURS[index % len(COLOURS)], DASHES[(index + index // ROUND) % len(DASHES)])


def border_looks(record: RangeRecord) -> dict[int, BorderLook]:
    """By the number of each governor; those that are not explained beside the picture are grey and have no number."""
    listed = {governor.number for governor, _, _ in explained_ends(record)}
    plain = BorderLook(DARK_GREY, DASHES[1])
    return {one.number: border_look(one) if one.number in listed else plain for one in record.governors}


def explained_ends(record: RangeRecord) -> list[tuple[GovernorEntry, str, float]]:
    """As many governors as have a place beside the picture, the first ones: each with its words and how far down."""
    told, height = [], 0.075
    for governor in record.governors:
        text = fill(rules_text(governor) + _where(record, governor), LEGEND_WIDTH)
        told.append((governor, text, height))
        height += 0.024 * (text.count("\n") + 1) + 0.026
        if height > LOWEST:
            break
    return told


def _where(record: RangeRecord, governor: GovernorEntry) -> str:
    """Over one drive, at which settings a governor ends the range."""
    if len(record.looked) > 1:
        return ""
    (name,) = record.looked
    unit = unit_sign(record.looked[name].unit)
    ends = [signed(one.points[0][0]) for one in record.stretches if one.governor == governor.number]
    return f", at {' and '.join(f'{end}{unit}' for end in ends)}"


def stroke_border(axes: Axes, points: Floats, look: BorderLook) -> None:
    """Draw a stretch of the border, on white so that it stands out."""
    width = THIN if look.colour is DARK_GREY else BORDER
    axes.plot(*points.T, color="white", linewidth=width + 2.5, solid_capstyle="butt", zorder=3)
    axes.plot(*points.T, color=shade(look.colour), linewidth=width, linestyle=look.dashes, zorder=4)


def border_number(axes: Axes, number: int, look: BorderLook, at: tuple[float, ...]) -> None:
    """Write a number in its circle."""
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


def explain_ends(axes: Axes, record: RangeRecord) -> None:
    """What each number stands for, with its line."""
    axes.set_axis_off()
    axes.set(xlim=(0, 1), ylim=(1, 0))
    axes.text(0.0, 0.02, "What ends the usable range", fontsize=13, va="center")
    listed = explained_ends(record)
    for governor, text, height in listed:
        look = border_look(governor)
        stroke_border(axes, np.array([[0.0, height], [0.14, height]]), look)
        border_number(axes, governor.number, look, (0.07, height))
        axes.text(0.18, height - 0.012, text, va="top", fontsize=10)
    if len(record.governors) > len(listed):
        more = f"{len(record.governors) - len(listed)} more, the grey lines without a number: see the report"
        axes.text(0.0, 0.99, more, va="center", fontsize=10)
