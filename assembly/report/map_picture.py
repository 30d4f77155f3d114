"""A map as a picture: what was measured, and beside it what is proven. The only door to matplotlib."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.record import MapCell, MapRecord, write_whole
from assembly.report.map_text import required_text, subject
from assembly.report.palette import BLACK, MIDDLE_GREY, VERMILION, WHITE, Colour
from assembly.report.words import below, figure, gap, setting, short, signed, unit_sign

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.colors import Normalize
    from matplotlib.figure import Figure

INCHES, DOTS_PER_INCH = (13.0, 7.2), 150
LEVELS = 7
"""About as many contour lines are drawn."""
COLOURS = "cividis"
FAILS, LOST, OPEN = "////", "xxx", "..."
"""Hatching of cells that fail, that cannot be reached, and of which nothing is proven."""
TITLE_WIDTH = 110
PLAIN = {"text.parse_math": False, "hatch.linewidth": 0.7, "font.size": 10.0}
"""Names are shown as they are written, dollar signs too."""


@dataclass(frozen=True, slots=True)
class _Panel:
    """One of the two figures of every cell, and how it is told."""

    title: str
    value: Callable[[MapCell], float | None]
    room: Callable[[MapCell], float | None]
    told: Callable[[float], str]
    fails: str


MEASURED = _Panel(
    "measured at the middle of each cell",
    lambda cell: cell.least_mm,
    lambda cell: cell.room_mm,
    lambda value: f"{gap(value)} mm",
    "nearer than required",
)
PROVEN = _Panel(
    "proven: no setting of the cell is nearer than this",
    lambda cell: cell.proven_mm,
    lambda cell: cell.proven_room_mm,
    lambda value: f"{figure(below(value))} mm",
    "not proven to keep what is required",
)


def draw_map(record: MapRecord, path: Path) -> None:
    """Draw ``record`` into the PNG ``path``, in whole or not at all. Raises OutputError."""
    import matplotlib as mpl
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    data = BytesIO()
    with mpl.rc_context(PLAIN):
        sheet = Figure(figsize=INCHES, dpi=DOTS_PER_INCH, layout="constrained")
        FigureCanvasAgg(sheet)
        if len(record.counts) == 1:
            handles = _curve(sheet, record)
        else:
            handles = _fields(sheet, record)
        sheet.suptitle(fill(_title(record), TITLE_WIDTH), fontsize=13)
        sheet.legend(handles=handles, loc="outside lower center", ncols=3, frameon=False)
        sheet.savefig(data, format="png")
    write_whole(path, data.getvalue())


def _title(record: MapRecord) -> str:
    held = f"; held: {setting(record.held, record.drives)}" if record.held else ""
    return f"{record.machine.name}: least clearance of {subject(record)}{held}"


def _fields(sheet: Figure, record: MapRecord) -> list[Artist]:
    """Two panels over two drives with one scale of colours; gives what the legend explains."""
    from matplotlib.colors import Normalize

    panels = sheet.subplots(1, 2, sharex=True, sharey=True)
    values = [_grid(record, panel.value) for panel in (MEASURED, PROVEN)]
    every = np.concatenate([grid[np.isfinite(grid)] for grid in values])
    low, high = (float(every.min()), float(every.max())) if len(every) else (0.0, 1.0)
    norm = Normalize(low, high if high > low else low + 1.0)
    handles: dict[str, Artist] = {}
    for axes, panel, grid in zip(panels, (MEASURED, PROVEN), values, strict=True):
        handles |= _field(axes, record, panel, grid, norm)
    bar = sheet.colorbar(panels[0].collections[0], ax=panels, shrink=0.85, pad=0.01)
    bar.set_label("mm")
    return list(handles.values())


def _field(axes: Axes, record: MapRecord, panel: _Panel, grid: Floats, norm: Normalize) -> dict[str, Artist]:
    """One panel over two drives: colours, contour lines, hatching, and the place of the least."""
    edges = [_edges(record, name) for name in record.counts]
    axes.pcolormesh(*edges, grid.T, cmap=COLOURS, norm=norm)
    axes.set_facecolor(_shade(WHITE))
    for name, write in zip(record.counts, (axes.set_xlabel, axes.set_ylabel), strict=True):
        write(_axis(record, name))
    axes.set_title(panel.title, fontsize=11)
    handles = _hatch(axes, record, panel)
    _contours(axes, record, grid)
    handles |= _required_line(axes, record, panel)
    cell = _lowest(record, panel)
    if cell is not None:
        handles |= _dot(axes, record, panel, cell, [cell.at[name] for name in record.counts])
    return handles


def _contours(axes: Axes, record: MapRecord, grid: Floats) -> None:
    from matplotlib.patheffects import withStroke
    from matplotlib.ticker import MaxNLocator

    known = grid[np.isfinite(grid)]
    if min(grid.shape) < 2 or not len(known) or np.ptp(known) < 1e-3:
        return
    levels = MaxNLocator(LEVELS).tick_values(float(known.min()), float(known.max()))
    levels = levels[(levels > known.min()) & (levels < known.max())]
    centres = [_centres(record, name) for name in record.counts]
    lines = axes.contour(*centres, np.ma.masked_invalid(grid.T), levels=levels, colors="black", linewidths=0.8)
    for text in axes.clabel(lines, fmt=lambda level: f"{short(level, 3)} mm", fontsize=8):
        text.set_path_effects([withStroke(linewidth=2.5, foreground="white")])


def _required_line(axes: Axes, record: MapRecord, panel: _Panel) -> dict[str, Artist]:
    """The bold line on one side of which something is nearer than it must be."""
    from matplotlib.lines import Line2D

    room = _grid(record, panel.room)
    known = room[np.isfinite(room)]
    if min(room.shape) >= 2 and len(known) and known.min() < 0 < known.max():
        centres = [_centres(record, name) for name in record.counts]
        line = np.ma.masked_invalid(room.T)
        axes.contour(*centres, line, levels=[0.0], colors=[_shade(WHITE)], linewidths=5.5)
        axes.contour(*centres, line, levels=[0.0], colors=[_shade(VERMILION)], linewidths=3.2)
        return {"required": Line2D([], [], color=_shade(VERMILION), linewidth=3.2, label=required_text(record))}
    return {}


def _hatch(axes: Axes, record: MapRecord, panel: _Panel) -> dict[str, Artist]:
    """Mark cells that fail, cannot be reached or are not proven; the kinds that there are, for the legend."""
    from matplotlib.collections import PatchCollection
    from matplotlib.patches import Patch, Rectangle

    edges = [_edges(record, name) for name in record.counts] if len(record.counts) == 2 else []
    handles: dict[str, Artist] = {}
    for kind, (label, sign, cells) in _kinds(record, panel).items():
        if not cells:
            continue
        ...
    return handles
