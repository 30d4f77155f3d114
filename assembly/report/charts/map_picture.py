"""A map as a picture: what was measured, and beside it what is proven."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.record import MapCell, MapRecord
from assembly.report.charts.map_marks import deepest_strike, map_heading, point_told
from assembly.report.charts.notes import clear_notes
from assembly.report.charts.plotting import axis_label, shade, sheet_for
from assembly.report.render.margin_scale import STEP_COLOURS, step_at, step_words
from assembly.report.render.palette import BLACK, BLUE, DARK_GREY, LIGHT_GREY, VERMILION, WHITE, Colour
from assembly.report.text.map_text import required_text
from assembly.report.text.words import below, figure, gap, setting, short

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.colors import Normalize
    from matplotlib.figure import Figure

INCHES = (13.0, 6.8)
LEVELS = 7
"""About as many contour lines are drawn."""
THIN, BOLD = 0.8, 3.2
"""Widths of lines, in points."""
PALE = 0.35
"""How much of its colour shows behind curves."""
SEAM = 0.3
"""Points by which cells reach over each other, else the ground shows between them where they are drawn as lines."""


@dataclass(frozen=True, slots=True)
class _Panel:
    """One of the two figures of every cell, and how it is reported."""

    title: str
    value: Callable[[MapCell], float | None]
    room: Callable[[MapCell], float | None]
    told: Callable[[float], str]
    fails: str


MEASURED = _Panel(
    "measured at the middle of each square",
    lambda cell: cell.least_mm,
    lambda cell: cell.room_mm,
    gap,
    "nearer than required",
)
PROVEN = _Panel(
    "proven: no setting of the square is nearer",
    lambda cell: cell.proven_mm,
    lambda cell: cell.proven_room_mm,
    lambda value: figure(below(value)),
    "not proven to keep what is required",
)


@dataclass(frozen=True, slots=True)
class _Mark:
    """Cells that are hatched, and what that says."""

    label: str
    hatch: str
    ground: Colour | None
    cells: Sequence[MapCell]


def draw_map(record: MapRecord, path: Path) -> None:
    """Draw ``record`` into ``path`` (``.png`` or ``.svg``), in whole or not at all. Raises OutputError."""
    with sheet_for(path, INCHES, clear_notes) as sheet:
        handles = draw_curves(sheet.subplots(), record) if len(record.counts) == 1 else _fields(sheet, record)
        sheet.suptitle(map_heading(record))
        legend = {str(handle.get_label()): handle for handle in handles}
        sheet.legend(handles=list(legend.values()), loc="outside lower center", ncols=4, frameon=False)


def _fields(sheet: Figure, record: MapRecord) -> list[Artist]:
    """Two panels over two drives, with one scale of colours and lines; gives what the legend explains."""
    from matplotlib.colors import Normalize

    places = sheet.subplots(1, 2, sharex=True, sharey=True)
    low, high = figure_ends(np.concatenate([values_of(record, panel.value) for panel in (MEASURED, PROVEN)]))
    norm = Normalize(low, max(high, low + 1e-3))
    handles: list[Artist] = []
    for axes, panel in zip(places, (MEASURED, PROVEN), strict=True):
        handles += draw_field(axes, record, panel, norm)
        axes.label_outer()
    return [*steps_used(record), *handles]


def steps_used(record: MapRecord) -> Iterator[Artist]:
    """The steps of colour that stand in either panel, for the legend; what fails is explained by its hatching."""
    from matplotlib.patches import Patch

    used = {_step(panel, cell) for panel in (MEASURED, PROVEN) for cell in record.cells}
    for step, words in enumerate(step_words()):
        if step and step in used:
            yield Patch(facecolor=shade(STEP_COLOURS[step]), edgecolor=shade(BLACK), linewidth=0.5, label=words)


def _step(panel: _Panel, cell: MapCell) -> int | None:
    """The cell's step of the scale of colours; None where there is no figure."""
    value, margin = panel.value(cell), panel.room(cell)
    return None if value is None or margin is None else step_at(margin, value)


def draw_field(axes: Axes, record: MapRecord, panel: _Panel, norm: Normalize) -> Iterator[Artist]:
    """One panel over two drives: colours, contour lines, hatched cells, and a dot where it is least."""
    from matplotlib.colors import ListedColormap

    across, up = record.counts
    grid = values_of(record, panel.value).reshape(tuple(record.counts.values()))
    seamless: dict[str, Any] = {"edgecolors": "face", "linewidth": SEAM}
    steps = values_of(record, lambda cell: _step(panel, cell)).reshape(grid.shape)
    scale: dict[str, Any] = {"cmap": ListedColormap([shade(colour) for colour in STEP_COLOURS]), "vmin": -0.5}
    axes.pcolormesh(
        _edges(record, across), _edges(record, up), steps.T, vmax=len(STEP_COLOURS) - 0.5, **scale, **seamless
    )
    axes.set(xlabel=axis_label(across, record.drives[across].unit), ylabel=axis_label(up, record.drives[up].unit))
    axes.set_title(panel.title, fontsize=11)
    for mark in _marks(record, panel):
        _hatch(axes, record, mark)
        yield _sample(mark)
    yield from _lines(axes, record, panel, grid, norm)
    deep = deepest_strike(record)
    cell = record.lowest(panel.value)
    if panel is MEASURED and deep is not None:
        yield point_told(axes, *deep, "deepest", above=False)
    elif cell is not None and panel.value(cell):
        yield point_told(axes, (cell.at[across], cell.at[up]), _told(record, panel, cell), "least", above=False)


def _told(record: MapRecord, panel: _Panel, cell: MapCell) -> str:
    """A cell's figure and setting."""
    at = {name: cell.at[name] for name in record.counts}
    return f"{panel.told(panel.value(cell) or 0.0)} mm\n{setting(at, record.drives)}"


def _hatch(axes: Axes, record: MapRecord, mark: _Mark) -> None:
    """Hatch the cells of a mark."""
    from matplotlib.collections import PatchCollection
    from matplotlib.patches import Rectangle

    (across, wide), (up, high) = ((name, _width(record, name)) for name in record.counts)
    boxes = [Rectangle((cell.at[across] - wide / 2, cell.at[up] - high / 2), wide, high) for cell in mark.cells]
    ground = shade(mark.ground) if mark.ground else "none"
    axes.add_collection(
        PatchCollection(boxes, hatch=mark.hatch, edgecolor=shade(BLACK), linewidth=0.0, facecolor=ground)
    )


def _lines(axes: Axes, record: MapRecord, panel: _Panel, grid: Floats, norm: Normalize) -> Iterator[Artist]:
    """Contour lines in mm, and in bold the line beyond which something is nearer than it must be."""
    from matplotlib.lines import Line2D
    from matplotlib.patheffects import withStroke
    from matplotlib.ticker import MaxNLocator

    if min(grid.shape) < 2:
        return
    centres = [_centres(record, name) for name in record.counts]
    steps = MaxNLocator(LEVELS).tick_values(float(norm.vmin or 0.0), float(norm.vmax or 0.0))
    levels = [level for level in steps if _crosses(grid, level)]
    if levels:
        lines = axes.contour(*centres, np.ma.masked_invalid(grid.T), levels, colors="black", linewidths=THIN)
        for text in axes.clabel(lines, fmt=lambda level: f"{short(level, 3)} mm", fontsize=10.5):
            text.set_path_effects([withStroke(linewidth=2.5, foreground="white")])
        lines.set_path_effects([withStroke(linewidth=2.5 * THIN, foreground="white", alpha=0.6)])
    room = values_of(record, panel.room).reshape(grid.shape)
    if _crosses(room, 0.0):
        for ink, width in ((WHITE, 1.8 * BOLD), (VERMILION, BOLD)):
            axes.contour(*centres, np.ma.masked_invalid(room.T), [0.0], colors=[shade(ink)], linewidths=width)
        yield Line2D([], [], color=shade(VERMILION), linewidth=BOLD, label=required_text(record))


def draw_curves(axes: Axes, record: MapRecord) -> list[Artist]:
    """Both figures over one drive; gives what the legend explains."""
    from matplotlib.lines import Line2D

    (name,) = record.counts
    centres, edges = _centres(record, name), _edges(record, name)
    handles: list[Artist] = []
    for mark in _marks(record, MEASURED):
        _shade_steps(axes, record, mark)
        handles.append(_sample(mark))
        handles[-1].set_alpha(_alpha(mark))
    steps = [panel.title.replace("square", "step") for panel in (MEASURED, PROVEN)]
    measured = values_of(record, MEASURED.value)
    handles += axes.plot(centres, measured, "o-", ms=3, color=shade(BLUE), label=steps[0])
    proven = values_of(record, PROVEN.value)
    axes.stairs(proven, edges, baseline=None, color=shade(BLACK), linewidth=1.4)
    handles.append(Line2D([], [], color=shade(BLACK), linewidth=1.4, label=steps[1]))
    if record.required_mm is not None:
        line = axes.axhline(record.required_mm, color=shade(VERMILION), linewidth=BOLD, zorder=1.5)
        line.set_label(required_text(record))
        handles.append(line)
    axes.set(xlabel=axis_label(name, record.drives[name].unit), ylabel="clearance, mm", xlim=(edges[0], edges[-1]))
    axes.set_ylim(bottom=0.0)
    axes.grid(color=shade(LIGHT_GREY))
    axes.set_axisbelow(True)
    least = record.least
    deep = deepest_strike(record)
    if deep is not None:
        handles.append(point_told(axes, (*deep[0], 0.0), deep[1], "deepest", above=True))
    elif least is not None:
        at = (least.at[name], least.least_mm or 0.0)
        handles.append(point_told(axes, at, _told(record, MEASURED, least), "least", above=True))
    return handles


def _shade_steps(axes: Axes, record: MapRecord, mark: _Mark) -> None:
    """Shade and hatch the steps of a mark over one drive."""
    (name,) = record.counts
    half = _width(record, name) / 2
    for cell in mark.cells:
        axes.axvspan(
            cell.at[name] - half,
            cell.at[name] + half,
            facecolor=shade(mark.ground or STEP_COLOURS[0]),
            alpha=_alpha(mark),
            edgecolor=shade(DARK_GREY),
            hatch=mark.hatch,
            linewidth=0.0,
        )


def _alpha(mark: _Mark) -> float:
    """Of the ground of a mark: what fails lets the curves be seen."""
    return 1.0 if mark.ground else PALE


def _marks(record: MapRecord, panel: _Panel) -> Iterator[_Mark]:
    """What is hatched in a panel, where there is any."""
    lost = [cell for cell in record.cells if not cell.reached]
    bare = [cell for cell in record.cells if cell.reached and panel.value(cell) is None]
    fails = [
        cell
        for cell in record.cells
        if panel.value(cell) is not None and ((panel.room(cell) or 0.0) < 0 or not panel.value(cell))
    ]
    for mark in (
        _Mark(panel.fails, "//" if panel is MEASURED else "\\\\", None, fails),
        _Mark("cannot be reached", "xx", LIGHT_GREY, lost),
        _Mark("nothing proven", "..", WHITE, bare),
    ):
        if mark.cells:
            yield mark


def _sample(mark: _Mark) -> Artist:
    """The mark as the legend shows it."""
    from matplotlib.patches import Patch

    ground = shade(mark.ground or (STEP_COLOURS[0] if mark.hatch in ("//", "\\\\") else WHITE))
    return Patch(facecolor=ground, edgecolor=shade(BLACK), hatch=2 * mark.hatch, linewidth=0.5, label=mark.label)


def values_of(record: MapRecord, of: Callable[[MapCell], float | None]) -> Floats:
    """A figure of all cells (N,), nan if there is none."""
    return np.array([np.nan if (value := of(cell)) is None else value for cell in record.cells], dtype=np.float64)


def figure_ends(values: Floats) -> tuple[float, float]:
    """The least and the largest of what is known."""
    known = values[np.isfinite(values)]
    return (float(known.min()), float(known.max())) if len(known) else (0.0, 0.0)


def _crosses(values: Floats, level: float) -> bool:
    """Whether ``level`` lies between the values, clear of both ends."""
    low, high = figure_ends(values)
    return low + 1e-6 < level < high - 1e-6


def _width(record: MapRecord, name: str) -> float:
    drive = record.drives[name]
    return (drive.to - drive.from_) / record.counts[name]


def _edges(record: MapRecord, name: str) -> Floats:
    drive = record.drives[name]
    return np.linspace(drive.from_, drive.to, record.counts[name] + 1)


def _centres(record: MapRecord, name: str) -> Floats:
    edges = _edges(record, name)
    return np.asarray((edges[:-1] + edges[1:]) / 2)
