"""``swingroom page``."""

from __future__ import annotations

from pathlib import Path

import click

from assembly.commands.common import (
    BY_VERDICT,
    CORES,
    FILE,
    HISTORY,
    MEMORY,
    NO_PICTURE,
    OUT,
    RECOMPUTE,
    TIME_LIMIT,
    WITHIN,
    ExitStatus,
    note,
    results_folder,
    show,
    sweep_aloud,
    tell_files,
)
from assembly.commands.paging import PAGE, RANGE, write_page_of


@click.command()
@FILE
@WITHIN
@TIME_LIMIT
@CORES
@MEMORY
@RECOMPUTE
@OUT
@HISTORY
@NO_PICTURE
@RANGE
def page(
    file: Path,
    within: float,
    time_limit: float | None,
    cores: int,
    recompute: bool,
    out: Path | None,
    history: Path | None,
    no_picture: bool,
    no_range: bool,
) -> ExitStatus:
    """Sweep FILE and write one HTML file: the verdict, the machine to move by thumb, the map, every table."""
    from assembly.api.loading import load

    machine = load(file)
    from assembly.api.kept_runs import last_kept
    from assembly.api.main_check import Effort
    from assembly.api.page_content import time_for_page
    from assembly.report.text.headline import headline
    from assembly.report.text.run_files import Files

    folder = results_folder(out, file)
    before = last_kept(file, history, note)
    with time_for_page():
        swept = sweep_aloud(machine, Effort(bracket_mm=within, budget_s=time_limit, cores=cores), recompute=recompute)
    show(headline(swept.record))
    if swept.stopped_by_hand:
        note("stopped by hand; no page was written")
        return BY_VERDICT[swept.record.verdict]
    write_page_of(swept, file, folder / PAGE, (history, before), pictures=not no_picture, usable=not no_range)
    tell_files(Files(page=folder / PAGE))
    return BY_VERDICT[swept.record.verdict]
