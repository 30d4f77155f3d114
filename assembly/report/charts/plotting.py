"""What drawings over the drives share: the sheet, colours, axes."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

from assembly.record import write_whole
from assembly.report.render.lettering import font
from assembly.report.render.palette import INK, RULE, SHEET, SOFT, Colour
from assembly.temporary import temporary_folder

if TYPE_CHECKING:
    from matplotlib.figure import Figure

DOTS_PER_INCH = 150
HEADING = 14.0
"""Points of what a drawing opens with, at its upper left like the page's."""


def _ink(colour: Colour) -> str:
    return "#{:02x}{:02x}{:02x}".format(*colour)


STYLE: dict[Any, Any] = {
    "text.parse_math": False,
    "hatch.linewidth": 0.8,
    "font.size": 10.0,
    "svg.hashsalt": "swingroom",
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.linewidth": 1.1,
    "axes.titlelocation": "left",
    "axes.titlesize": 12.0,
    "axes.labelsize": 11.0,
    "grid.linewidth": 0.7,
    "xtick.major.size": 0.0,
    "ytick.major.size": 0.0,
    "xtick.major.pad": 6.0,
    "ytick.major.pad": 6.0,
    **{name: _ink(SHEET) for name in ("figure.facecolor", "savefig.facecolor", "axes.facecolor", "legend.facecolor")},
    **{name: _ink(INK) for name in ("text.color", "axes.titlecolor")},
    **{name: _ink(SOFT) for name in ("axes.labelcolor", "xtick.color", "ytick.color", "axes.edgecolor")},
    **{name: _ink(RULE) for name in ("grid.color", "legend.edgecolor")},
}
"""The page's ground, ink and rules. Names are shown as they are written, dollar signs too; the ids of an SVG depend on
its content alone."""
UNDATED: dict[str, dict[str, Any]] = {"svg": {"Date": None}}
"""What is said about a file of each format: nothing that changes from day to day."""


@contextmanager
def sheet_for(
    path: Path, inches: tuple[float, float], finish: Callable[[Figure], None] | None = None
) -> Iterator[Figure]:
    """A sheet to draw on, that then becomes ``path``, in whole or not at all. Raises OutputError.

    ``finish`` is called when all is drawn and has its place, such as to move what covers something.

    The ending says whether as pixels (``.png``) or as lines (``.svg``), whose letters are lines too and look the same
    everywhere.
    """
    import matplotlib as mpl
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    data, kind = BytesIO(), path.suffix.removeprefix(".")
    with mpl.rc_context(STYLE), warnings.catch_warnings(), _lettering() as family:
        warnings.filterwarnings("ignore", "Glyph .* missing from font")  # it is drawn as a box; the report has the name
        sheet = Figure(figsize=inches, dpi=DOTS_PER_INCH, layout="constrained")
        FigureCanvasAgg(sheet)
        mpl.rcParams["font.family"] = [family, "DejaVu Sans"]
        yield sheet
        if words := sheet.get_suptitle():
            sheet.suptitle(words, x=0.012, horizontalalignment="left", fontsize=HEADING)
        if finish is not None:
            finish(sheet)
        sheet.savefig(data, format=kind, metadata=UNDATED.get(kind))
    write_whole(path, data.getvalue())


@contextmanager
def _lettering() -> Iterator[str]:
    """The family of the other pictures, known meanwhile to the drawing library, which wants a file."""
    from matplotlib.font_manager import FontProperties, fontManager

    known = list(fontManager.ttflist)
    with temporary_folder() as folder:
        file = folder / "lettering.ttf"
        file.write_bytes(font(12).font_bytes)
        fontManager.addfont(file)
        try:
            yield str(FontProperties(fname=file).get_name())
        finally:
            fontManager.ttflist[:] = known


def axis_label(name: str, unit: str) -> str:
    """A drive with its unit."""
    return f"{name}, {'degrees' if unit == 'deg' else unit}"


def shade(colour: Colour) -> tuple[float, float, float]:
    """A colour as the drawing library wants it."""
    red, green, blue = colour
    return red / 255, green / 255, blue / 255
