"""``swingroom sweep``."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from assembly.arguments import Positive
from assembly.commands.common import (
    BY_VERDICT,
    CORES,
    FILE,
    JSON,
    NO_PICTURE,
    OUT,
    ExitStatus,
    answer,
    command_line,
    results_folder,
    say,
    show,
)
from assembly.commands.keeping import HISTORY, keep, place_to_keep
from assembly.commands.paging import PAGE, change_since, last_kept, page_wish
from assembly.commands.sweep_progress import ANEW, BRACKET, sweep_aloud

if TYPE_CHECKING:
    from assembly.api.main_check import SweepResult
    from assembly.api.page_content import Change, PageWish

RECORD = "record.json"
CLOSEST = "closest.png"


@click.command()
@FILE
@BRACKET
@click.option("--budget", type=Positive(), help="Stop after this many seconds; what is open then stays undecided.")
@click.option("--pair", "pairs", nargs=2, multiple=True, metavar="PART PART", help="Close in on these two; repeatable.")
@click.option("--part", "parts", multiple=True, metavar="PART", help="Close in on all pairs of it; repeatable.")
@CORES
@ANEW
@OUT
@click.option("--keep", "kept", is_flag=True, help="Keep the run in the history; --history PATH does so too.")
@HISTORY
@click.option("--page", "paged", is_flag=True, help="Write the HTML page, too (see `swingroom page`).")
@NO_PICTURE
@JSON
def sweep(
    file: Path,
    bracket: float,
    budget: float | None,
    pairs: tuple[tuple[str, str], ...],
    parts: tuple[str, ...],
    cores: int,
    anew: bool,
    out: Path | None,
    kept: bool,
    history: Path | None,
    paged: bool,
    no_picture: bool,
    as_json: bool,
) -> ExitStatus:
    """Check every pair of parts of FILE over the whole range of its drives."""
    from assembly.api.main_check import Effort
    from assembly.api.questions import load
    from assembly.record import save
    from assembly.report.render.optional_picture import with_picture
    from assembly.report.text.advice import closing
    from assembly.report.text.run_files import Files
    from assembly.report.text.sweep_text import sweep_blocks

    machine = load(file)
    folder = results_folder(out, file)
    place = place_to_keep(history, asked=kept)
    before = last_kept(file, history) if paged else None
    swept = sweep_aloud(machine, Effort(bracket, budget_s=budget, cores=cores, pairs=pairs, parts=parts), anew=anew)
    record = swept.record
    try:
        save(record, folder / RECORD)
    finally:
        answer(record, sweep_blocks, as_json=as_json)
        kept_as = keep(swept, file, place) if place else ""
    files = Files(folder / RECORD)
    if not no_picture:
        files = with_picture(files, swept.scene(), folder / CLOSEST)
    if paged:
        wish = page_wish(file, cores, pictures=not no_picture)
        files = replace(files, page=_paged(swept, wish, change_since(record, history, before), folder))
    stream = sys.stderr if as_json else sys.stdout
    show(closing(record, files, command_line("sweep", file)), stream)
    say(kept_as, stream)
    return BY_VERDICT[record.verdict]


def _paged(swept: SweepResult, wish: PageWish, change: Change, folder: Path) -> Path:
    """The page of the sweep, beside its record."""
    from assembly.api.page_content import write_page
    from assembly.report.text.terminal import progress

    with progress(sys.stderr) as told:
        write_page(swept, wish, change, told, folder / PAGE)
    return folder / PAGE
