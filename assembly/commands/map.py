"""``swingroom map``."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from assembly.arguments import NameValue
from assembly.commands import common


@click.command("map")
@common.FILE
@common.TIME
@click.option("--pair", nargs=2, metavar="PART PART", help="Only these two.  [default: all pairs that move]")
@click.option(
    "--grid", "cells", type=click.IntRange(min=1), help="Steps along each drive.  [default: 31; one drive: 121]"
)
@click.option("--step", "steps", type=NameValue(), multiple=True, help="Width of a step along a drive, instead.")
@common.HELD
@common.CORES
@common.CLUSTER
@common.MEMORY
@common.RECOMPUTE
@common.SVG
@common.NO_PICTURE
@common.OUT
@common.ALL
def map_(
    file: Path,
    pair: tuple[str, str] | None,
    cells: int | None,
    steps: tuple[tuple[str, float], ...],
    held: tuple[tuple[str, float], ...],
    cores: int,
    recompute: bool,
    svg: bool,
    no_picture: bool,
    out: Path | None,
    everything: bool,
) -> common.ExitStatus:
    """Draw the least clearance of FILE over its drives as picture and table, and sweep the pairs in it.

    The exit status is that of these pairs alone, not the whole machine's.
    """
    from assembly.api.loading import load
    from assembly.report.charts.map_files import map_file_lines, write_map
    from assembly.report.text.map_text import map_blocks
    from assembly.report.text.run_files import command_line
    from assembly.report.text.terminal import progress

    widths, settings = common.once_each(steps), common.once_each(held)
    machine = load(file)
    from assembly.api.swept_map import MapWish, swept_map

    wish = MapWish(pair, cells, widths, settings)
    folder = common.results_folder(out, file)
    with progress(sys.stderr) as told:
        found = swept_map(machine, wish, told, cores, cached=not recompute)
    record = found.record
    for each in found.notes:
        common.note(each)
    try:
        files = write_map(record, folder, None if no_picture else "svg" if svg else "png")
    finally:
        verdict = common.answer_in_short(
            record, lambda found: map_blocks(found, command_line("sweep", file)), everything=everything
        )
    common.show(map_file_lines(files))
    common.show(verdict)
    if record.fails:
        return common.ExitStatus.FAILS
    return common.ExitStatus.UNDECIDED if record.undecided else common.ExitStatus.CLEAR
