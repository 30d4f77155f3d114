"""``swingroom page``."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from assembly.arguments import Positive
from assembly.commands.common import (
    BY_VERDICT,
    CORES,
    FILE,
    NO_PICTURE,
    OUT,
    ExitStatus,
    results_folder,
    say,
    show,
)
from assembly.commands.keeping import HISTORY
from assembly.commands.paging import PAGE, RANGE, change_since, last_kept, page_wish
from assembly.commands.sweep_progress import ANEW, BRACKET, BY_HAND, sweep_aloud


@click.command()
@FILE
@BRACKET
@click.option("--budget", type=Positive(), help="Stop the sweep after this many seconds.")
@CORES
@ANEW
@OUT
@HISTORY
@NO_PICTURE
@RANGE
def page(
    file: Path,
    bracket: float,
    budget: float | None,
    cores: int,
    anew: bool,
    out: Path | None,
    history: Path | None,
    no_picture: bool,
    no_range: bool,
) -> ExitStatus:
    """Sweep FILE and write one HTML file: the verdict, the machine to move by thumb, the map, every table."""
    from assembly.api.main_check import Effort
    from assembly.api.page_content import write_page
    from assembly.api.questions import load
    from assembly.report.text.headline import headline
    from assembly.report.text.run_files import Files, file_lines
    from assembly.report.text.terminal import progress

    machine = load(file)
    folder = results_folder(out, file)
    before = last_kept(file, history)
    swept = sweep_aloud(machine, Effort(bracket_mm=bracket, budget_s=budget, cores=cores), anew=anew)
    show(headline(swept.record))
    if swept.record.work.stopped == BY_HAND:
        say("stopped by hand; no page was written\n", sys.stderr)
        return BY_VERDICT[swept.record.verdict]
    with progress(sys.stderr) as told:
        change = change_since(swept.record, history, before)
        wish = page_wish(file, cores, pictures=not no_picture, usable=not no_range)
        write_page(swept, wish, change, told, folder / PAGE)
    show(file_lines(Files(page=folder / PAGE)))
    return BY_VERDICT[swept.record.verdict]
