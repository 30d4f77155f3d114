"""What is told on the picture of a map: the verdict above it, and the worst place in it."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import fill
from typing import TYPE_CHECKING

from assembly.record import MapRecord, PairEntry
from assembly.report.charts.plotting import shade
from assembly.report.render.palette import BLACK, WHITE
from assembly.report.text.headline import answer_lines
from assembly.report.text.map_text import required_text, squares, subject
from assembly.report.text.words import pair_depth, setting

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes

TITLE_WIDTH = 140
"""Characters of a heading's line."""


def map_heading(record: MapRecord) -> str:
    """The verdict of what is mapped, then what it is; of a slice what was measured in it."""
    held = f"; held: {setting(record.held, record.drives)}" if record.held else ""
    what = f"{record.machine.name}: least clearance of {subject(record)}{held}; {required_text(record)}"
    return f"{fill(_verdict(record), TITLE_WIDTH)}\n{fill(what, TITLE_WIDTH)}"


def _verdict(record: MapRecord) -> str:
    if record.answer is not None:
        return next(line.text for line in answer_lines(record.answer))
    if record.failing:
        return f"Too near in {len(record.failing)} of {squares(record)} measured"
    if record.unreached:
        return f"{record.unreached} of {squares(record)} cannot be reached"
    return f"Nowhere too near in {squares(record)} measured; that is no verdict"


def deepest_strike(record: MapRecord) -> tuple[tuple[float, ...], str] | None:
    """Where the swept pairs stand deepest in each other, by the drives of the map, and how deep; None if none do."""
    pairs = record.answer.pairs if record.answer is not None and record.answer.verdict == "fails" else ()
    worst = _striking(pairs)
    if worst is None or worst.overlap is None:
        return None
    at = {name: worst.at.get(name, 0.0) for name in record.counts}
    return tuple(at.values()), f"{pair_depth(worst.overlap)} mm deep\n{setting(at, record.drives)}"


def _striking(pairs: Sequence[PairEntry]) -> PairEntry | None:
    struck = [pair for pair in pairs if pair.overlap is not None and pair.at]
    return max(struck, key=lambda pair: pair.overlap.depth_mm if pair.overlap else 0.0, default=None)


def point_told(axes: Axes, at: Sequence[float], words: str, label: str, *, above: bool) -> Artist:
    """A dot with words beside it: towards the middle, ``above`` a curve."""
    (mark,) = axes.plot(*at, "o", ms=9, mfc=shade(WHITE), mec=shade(BLACK), mew=2.0, label=label, zorder=5)
    mark.set_clip_on(False)
    middle = [sum(axes.get_xlim()) / 2, sum(axes.get_ylim()) / 2]
    left, low = at[0] < middle[0], above or at[1] < middle[1]
    axes.annotate(
        words,
        (at[0], at[1]),
        xytext=(14 if left else -14, 14 if low else -14),
        textcoords="offset points",
        ha="left" if left else "right",
        va="bottom" if low else "top",
        bbox={"boxstyle": "round,pad=0.3", "facecolor": "white", "edgecolor": "black"},
        arrowprops={"arrowstyle": "-"},
        zorder=6,
    )
    return mark
