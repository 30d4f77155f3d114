"""The map of a machine as it is beside that of its first proposal, on one scale."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING

import numpy as np

from assembly.record import MapRecord, ProposalRecord
from assembly.report.charts.map_marks import TITLE_WIDTH
from assembly.report.charts.map_picture import (
    INCHES,
    MEASURED,
    draw_curves,
    draw_field,
    figure_ends,
    steps_used,
    values_of,
)
from assembly.report.charts.notes import clear_notes
from assembly.report.charts.plotting import sheet_for
from assembly.report.text.map_text import required_text
from assembly.report.text.words import short

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes


def draw_proposal_map(record: ProposalRecord, maps: tuple[MapRecord, MapRecord], path: Path) -> None:
    """Draw what was measured as the file is and as the first proposal has it. Raises OutputError."""
    changes = " and ".join(f"{one.name} {short(one.after)}" for one in record.proposals[0].values)
    titles = f"as it is: {record.verdict.upper()}", f"with {changes}: {record.proposals[0].verdict.upper()}"
    with sheet_for(path, INCHES, clear_notes) as sheet:
        places = sheet.subplots(1, 2, sharex=True, sharey=True)
        handles = _panels(places, maps)
        for axes, title in zip(places, titles, strict=True):
            axes.set_title(title, fontsize=12)
            axes.label_outer()
        told = f"{record.machine.name}: least clearance measured, as it is and with proposal 1; verdicts by sweeping"
        sheet.suptitle(f"{fill(told, TITLE_WIDTH)}\n{required_text(maps[0])}")
        legend = {str(handle.get_label()): handle for handle in handles}
        sheet.legend(handles=list(legend.values()), loc="outside lower center", ncols=4, frameon=False)


def _panels(places: Sequence[Axes], maps: tuple[MapRecord, MapRecord]) -> list[Artist]:
    """Both maps; gives what the legend explains."""
    from matplotlib.colors import Normalize

    if len(maps[0].counts) == 1:
        handles = [handle for axes, each in zip(places, maps, strict=True) for handle in draw_curves(axes, each)]
        tops = [figure_ends(values_of(each, MEASURED.value))[1] for each in maps]
        places[0].set_ylim(0.0, 1.08 * max(*tops, 1e-3))
        return handles
    low, high = figure_ends(np.concatenate([values_of(each, MEASURED.value) for each in maps]))
    norm = Normalize(low, max(high, low + 1e-3))
    handles = [handle for each in maps for handle in steps_used(each)]
    for axes, each in zip(places, maps, strict=True):
        handles += draw_field(axes, each, MEASURED, norm)
    return handles
