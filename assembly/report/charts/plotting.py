"""What drawings over the drives share: the sheet, colours, axes."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

from assembly.record import write_whole
from assembly.report.render.palette import Colour

if TYPE_CHECKING:
    from matplotlib.figure import Figure

DOTS_PER_INCH = 150
STYLE: dict[Any, Any] = {
    "text.parse_math": False,
    "hatch.linewidth": 0.8,
    "font.size": 10.0,
    "svg.hashsalt": "swingroom",
}
"""Names are shown as they are written, dollar signs too; the ids of an SVG depend on its content alone."""
UNDATED: dict[str, dict[str, Any]] = {"svg": {"Date": None}}
"""What is said about a file of each format: nothing that changes from day to day."""


@contextmanager
def sheet_for(path: Path, inches: tuple[float, float]) -> Iterator[Figure]:
    """A sheet to draw on, that then becomes ``path``, in whole or not at all. Raises OutputError.

    The ending says whether as pixels (``.png``) or as lines (``.svg``), whose letters are lines too and look the same
    everywhere.
    """
    import matplotlib as mpl
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    data, kind = BytesIO(), path.suffix.removeprefix(".")
    with mpl.rc_context(STYLE), warnings.catch_warnings():
        warnings.filterwarnings("ignore", "Glyph .* missing from font")  # it is drawn as a box; the report has the name
        sheet = Figure(figsize=inches, dpi=DOTS_PER_INCH, layout="constrained")
        FigureCanvasAgg(sheet)
        yield sheet
        sheet.savefig(data, format=kind, metadata=UNDATED.get(kind))
    write_whole(path, data.getvalue())


def axis_label(name: str, unit: str) -> str:
    """A drive with its unit."""
    return f"{name}, {'degrees' if unit == 'deg' else unit}"


def shade(colour: Colour) -> tuple[float, float, float]:
    """A colour as the drawing library wants it."""
    red, green, blue = colour
    return red / 255, green / 255, blue / 255
