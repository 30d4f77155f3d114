"""``swingroom range``."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from assembly.commands import common


@click.command("range")
@common.FILE
@common.TIME
@click.option(
    "--grid", "cells", type=click.IntRange(min=1), help="Steps along each drive.  [default: 30; one drive: 120]"
)
@common.HELD
@common.CORES
@common.CLUSTER
@common.MEMORY
@common.SVG
@common.NO_PICTURE
@common.OUT
@common.ALL
@common.JSON
def range_(
    file: Path,
    cells: int | None,
    held: tuple[tuple[str, float], ...],
    cores: int,
    svg: bool,
    no_picture: bool,
    out: Path | None,
    everything: bool,
    as_json: bool,
) -> common.ExitStatus:
    """Draw where the drives of FILE can go with every rule kept, also beyond its range, and tell what ends it."""
    from assembly.api.loading import load
    from assembly.report.charts.map_files import map_file_lines, write_range
    from assembly.report.text.range_text import range_blocks
    from assembly.report.text.run_files import command_line
    from assembly.report.text.terminal import progress

    still = common.once_each(held)
    machine = load(file)
    from assembly.api import questions

    folder = common.results_folder(out, file)
    with progress(sys.stderr) as told:
        record = questions.usable_range(machine, cells=cells, held=still, cores=cores, progress=told)
    try:
        files = write_range(record, folder, None if no_picture else "svg" if svg else "png")
    finally:
        verdict = common.answer_in_short(
            record,
            lambda found: range_blocks(found, command_line("sweep", file)),
            everything=everything,
            as_json=as_json,
        )
    common.show(map_file_lines(files), sys.stderr if as_json else sys.stdout)
    common.show(verdict)
    if record.undecided:
        return common.ExitStatus.UNDECIDED
    return common.ExitStatus.CLEAR if record.fits else common.ExitStatus.FAILS
