"""``swingroom sweep``."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from assembly.commands import common
from assembly.commands.paging import PAGE, write_page_of
from assembly.commands.spread import spread_of_sweep

if TYPE_CHECKING:
    from assembly import Machine
    from assembly.api.known_answers import KnownAnswer, Options
    from assembly.api.main_check import SweepResult
    from assembly.record import Record
    from assembly.report.text.run_files import Files

RECORD = "record.json"
CLOSEST = "closest.png"


@click.command()
@common.FILE
@common.WITHIN
@common.TIME_LIMIT
@click.option("--pair", "pairs", nargs=2, multiple=True, metavar="PART PART", help="Close in on these two; repeatable.")
@click.option("--part", "parts", multiple=True, metavar="PART", help="Close in on all pairs of it; repeatable.")
@common.CORES
@common.CLUSTER
@common.MEMORY
@common.RECOMPUTE
@common.OUT
@click.option("--keep", "kept", is_flag=True, help="Keep the run in the history; --history PATH does so too.")
@common.HISTORY
@click.option("--page", "paged", is_flag=True, help="Write the HTML page, too (see `swingroom page`).")
@click.option(
    "--spread", "spreads", is_flag=True, help="Count tolerances: CLEAR only where the worst case keeps every rule."
)
@common.NO_PICTURE
@common.ALL
@common.JSON
def sweep(
    file: Path,
    within: float,
    time_limit: float | None,
    pairs: tuple[tuple[str, str], ...],
    parts: tuple[str, ...],
    cores: int,
    recompute: bool,
    out: Path | None,
    kept: bool,
    history: Path | None,
    paged: bool,
    spreads: bool,
    no_picture: bool,
    everything: bool,
    as_json: bool,
) -> common.ExitStatus:
    """Check every pair of parts of FILE over the whole range of its drives."""
    asked = {"within": within, "pairs": pairs, "parts": parts}
    may_be_known = time_limit is None and not (recompute or paged or kept or history or spreads)
    if may_be_known and (known := _known(file, asked, cores, pictured=not no_picture)):
        return _told_again(known, file, out, pictured=not no_picture, everything=everything, as_json=as_json)
    machine = _loaded(file, spreads=spreads)
    from assembly.api.kept_runs import last_kept, place_to_keep
    from assembly.api.main_check import Effort

    folder = common.results_folder(out, file)
    place = place_to_keep(history, common.note, asked=kept)
    before = last_kept(file, history, common.note) if paged else None
    effort = Effort(bracket_mm=within, budget_s=time_limit, cores=cores, pairs=pairs, parts=parts)
    swept = common.sweep_aloud(machine, effort, recompute=recompute)
    try:
        _save(swept.record, folder, everything=everything, as_json=as_json)
    finally:
        kept_as = _kept(swept, file, place) if place else ""
    files = _drawn(swept, file, folder, asked, pictured=not no_picture)
    if paged:
        page = write_page_of(swept, file, folder / PAGE, (history, before), pictures=not no_picture)
        files = replace(files, page=page)
    common.say(kept_as, sys.stderr if as_json else sys.stdout)
    _tell_where(swept.record, files, file, everything=everything, as_json=as_json)
    return _status(swept, file, folder if spreads else None, everything=everything, as_json=as_json)


def _status(
    swept: SweepResult, file: Path, spread_to: Path | None, *, everything: bool, as_json: bool
) -> common.ExitStatus:
    """The exit status: of the machine as drawn, or of its worst case, which is told and kept in ``spread_to``."""
    if spread_to is None:
        return common.BY_VERDICT[swept.record.verdict]
    return spread_of_sweep(swept, file, spread_to, everything=everything, as_json=as_json)


def _loaded(file: Path, *, spreads: bool) -> Machine:
    """The machine; InputError before anything long is computed where its tolerances are asked for and it has none."""
    from assembly.api.loading import load

    machine = load(file)
    if spreads:
        from assembly.api.spreading import require_tolerances

        require_tolerances(machine)
    return machine


def _known(file: Path, asked: Options, cores: int, *, pictured: bool) -> KnownAnswer | None:
    """The answer of an earlier run of the same file, with its picture if there is to be one."""
    from assembly.api.known_answers import known_answer

    known = known_answer(file, asked, cores, common.note)
    return known if known and (known.picture or not pictured) else None


def _save(record: Record, folder: Path, *, everything: bool, as_json: bool) -> None:
    """Write the record and tell what was found, this even if it cannot be written."""
    from assembly.record import save

    try:
        save(record, folder / RECORD)
    finally:
        _tell(record, everything=everything, as_json=as_json)


def _drawn(swept: SweepResult, file: Path, folder: Path, asked: Options, *, pictured: bool) -> Files:
    """Draw the picture, and keep all of the answer for the next run of the same file."""
    from assembly.api.known_answers import keep_answer
    from assembly.report.render.optional_picture import with_picture
    from assembly.report.text.run_files import Files

    files = with_picture(Files(folder / RECORD), swept.scene() if pictured else None, folder / CLOSEST)
    keep_answer(file, asked, swept.record, files.picture, common.note)
    return files


def _told_again(
    known: KnownAnswer, file: Path, out: Path | None, *, pictured: bool, everything: bool, as_json: bool
) -> common.ExitStatus:
    """Tell and write what an earlier run of the same file found."""
    from assembly.record import write_whole
    from assembly.report.text.run_files import Files

    folder = common.results_folder(out, file)
    record, files = known.record, Files(folder / RECORD)
    _save(record, folder, everything=everything, as_json=as_json)
    if pictured and known.picture:
        write_whole(folder / CLOSEST, known.picture)
        files = replace(files, picture=folder / CLOSEST)
    _tell_where(record, files, file, everything=everything, as_json=as_json)
    return common.BY_VERDICT[record.verdict]


def _tell(record: Record, *, everything: bool, as_json: bool) -> None:
    """What was found, but for what to do now."""
    from assembly.report.text.sweep_screen import sweep_screen
    from assembly.report.text.sweep_text import sweep_blocks

    common.answer(record, sweep_blocks if everything else sweep_screen, as_json=as_json)


def _tell_where(record: Record, files: Files, file: Path, *, everything: bool, as_json: bool) -> None:
    """What to do next, where the files lie, and the verdict once more."""
    from assembly.report.text.advice import closing
    from assembly.report.text.run_files import command_line
    from assembly.report.text.sweep_screen import sweep_closing

    end = closing if everything else sweep_closing
    common.show(end(record, files, command_line("sweep", file)), sys.stderr if as_json else sys.stdout)


def _kept(swept: SweepResult, file: Path, place: Path) -> str:
    """Keep the run; a line that says its number."""
    from assembly.api.kept_runs import keep, opened

    with opened(place, common.note) as history:
        return f"kept as run {keep(swept, file, history)} in {place}\n"
