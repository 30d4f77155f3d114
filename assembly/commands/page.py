"""``swingroom page``."""

from __future__ import annotations

from pathlib import Path

import click

from assembly.commands import common
from assembly.commands.paging import PAGE, RANGE, write_page_of


@click.command()
@common.FILE
@common.WITHIN
@common.TIME_LIMIT
@common.CORES
@common.CLUSTER
@common.MEMORY
@common.RECOMPUTE
@common.OUT
@common.HISTORY
@common.NO_PICTURE
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
) -> common.ExitStatus:
    """Sweep FILE and write one HTML file: the verdict, the machine to move by thumb, the map, every table."""
    from assembly.api.loading import load

    machine = load(file)
    from assembly.api.kept_runs import last_kept
    from assembly.api.main_check import Effort
    from assembly.api.page_content import time_for_page
    from assembly.report.text.headline import headline
    from assembly.report.text.run_files import Files, command_line
    from assembly.report.text.sweep_screen import sweep_closing

    folder = common.results_folder(out, file)
    before = last_kept(file, history, common.note)
    with time_for_page():
        effort = Effort(bracket_mm=within, budget_s=time_limit, cores=cores)
        swept = common.sweep_aloud(machine, effort, recompute=recompute)
    common.show(headline(swept.record))
    if swept.stopped_by_hand:
        common.note("stopped by hand; no page was written")
        return common.BY_VERDICT[swept.record.verdict]
    write_page_of(swept, file, folder / PAGE, (history, before), pictures=not no_picture, usable=not no_range)
    common.show(sweep_closing(swept.record, Files(page=folder / PAGE), command_line("sweep", file)))
    return common.BY_VERDICT[swept.record.verdict]
