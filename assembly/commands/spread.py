"""``swingroom spread``."""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from assembly.commands import common

if TYPE_CHECKING:
    from assembly.api.main_check import SweepResult

MACHINES, SEED = 200, 1
RECORD = "spread.json"
WITHIN = "Within the tolerances of the file"


@click.command()
@common.FILE
@click.option(
    "--machines",
    type=click.IntRange(min=0, max=1_000_000),
    default=MACHINES,
    show_default=True,
    help="Random machines that are made anew.",
)
@click.option("--seed", type=click.IntRange(min=0), default=SEED, show_default=True, help="Of the random numbers.")
@click.option("--csv", "as_table", is_flag=True, help="Write spread.csv.")
@common.TIME
@common.CORES
@common.CLUSTER
@common.MEMORY
@common.RECOMPUTE
@common.OUT
@common.ALL
@common.JSON
def spread(
    file: Path,
    machines: int,
    seed: int,
    as_table: bool,
    cores: int,
    recompute: bool,
    out: Path | None,
    everything: bool,
    as_json: bool,
) -> common.ExitStatus:
    """Tell what the tolerances of FILE leave of every clearance, limit and measure.

    Side by side: as drawn, proven whatever the dimensions are within their tolerances, by slopes, by root of the sum of
    squares, and over random machines. Exit status: 0 the worst case is proven to keep every rule; 1 a machine within
    the tolerances breaks one; 3 not decided.
    """
    from assembly.api.loading import load
    from assembly.report.text.run_files import command_line
    from assembly.report.text.spread_text import spread_blocks
    from assembly.report.text.terminal import progress

    machine = load(file)
    from assembly.api.spreading import spread as spread_of

    folder = common.results_folder(out, file) if as_table else None
    with progress(sys.stderr) as told:
        record = spread_of(machine, machines=machines, seed=seed, cores=cores, progress=told, cached=not recompute)
    blocks = partial(spread_blocks, command=command_line("spread", file))
    verdict = common.answer_in_short(
        record, blocks, everything=everything, as_json=as_json, files=None if folder else 0
    )
    if folder is not None:
        from assembly.record import write_whole
        from assembly.report.export.spread_sheet import spread_sheet
        from assembly.report.text.layout import Line

        table = folder / "spread.csv"
        write_whole(table, spread_sheet(record))
        common.beside([Line(""), Line(f"table:   {table}")], as_json=as_json)
    common.show(verdict)
    return common.BY_VERDICT[record.verdict]


def spread_of_sweep(
    swept: SweepResult, file: Path, folder: Path, *, everything: bool, as_json: bool
) -> common.ExitStatus:
    """Tell what tolerances leave of what a sweep has found, beside its report, and write the record of it."""
    from assembly.api.spreading import spread_of_sweep as spread_of
    from assembly.record import json_text, write_whole
    from assembly.report.text.layout import Heading, Line
    from assembly.report.text.one_screen import one_screen, verdict_again
    from assembly.report.text.run_files import command_line
    from assembly.report.text.spread_text import spread_blocks
    from assembly.report.text.terminal import progress

    if swept.stopped_by_hand or swept.record.work.stopped:
        common.beside([Line("UNDECIDED within the tolerances: the sweep ended early")], as_json=as_json)
        return common.ExitStatus.UNDECIDED
    with progress(sys.stderr) as told:
        record = spread_of(swept, MACHINES, SEED, told)
    write_whole(folder / RECORD, json_text(record))
    blocks = tuple(spread_blocks(record, command_line("spread", file)))
    shown = blocks if everything else one_screen(blocks, str(folder / RECORD))
    common.beside([Heading(WITHIN), *shown, *verdict_again(blocks)], as_json=as_json)
    return common.BY_VERDICT[record.verdict]
