"""What drawings over the drives share: the sheet, colours, axes."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

from assembly.record import write_whole
from assembly.report.palette import Colour

if TYPE_CHECKING:
    from matplotlib.figure import Figure

DOTS_PER_INCH = 150
STYLE: dict[Any, float] = {"text.parse_math": False, "hatch.linewidth": 0.8, "font.size": 10.0}
"""Names are shown as they are written, dollar signs too."""


@contextmanager
def sheet_for(path: Path, inches: tuple[float, float]) -> Iterator[Figure]:
    """A sheet to draw on, that then becomes the PNG ``path``, in whole or not at all. Raises OutputError."""
    import matplotlib as mpl
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    data = BytesIO()
    with mpl.rc_context(STYLE):
        sheet = Figure(figsize=inches, dpi=DOTS_PER_INCH, layout="constrained")
        FigureCanvasAgg(sheet)
        yield sheet
        sheet.savefig(data, format="png")
    write_whole(path, data.getvalue())


def axis_label(name: str, unit: str) -> str:
    """A drive with its unit."""
    return f"{name}, {'degrees' if unit == 'deg' else unit}"


def shade(colour: Colour) -> tuple[float, float, float]:
    """A colour as the drawing library wants it."""
    red, green, blue = colour
    return red / 255, green / 255, blue / 255
