"""``swingroom spread``."""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path

import click

from assembly.commands import common


@click.command()
@common.FILE
@click.option(
    "--machines",
    type=click.IntRange(min=0, max=1_000_000),
    default=200,
    show_default=True,
    help="Random machines that are made anew.",
)
@click.option("--seed", type=click.IntRange(min=0), default=1, show_default=True, help="Of the random numbers.")
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
    verdict = common.answer_in_short(record, blocks, everything=everything, as_json=as_json)
    if folder is not None:
        from assembly.record import write_whole
        from assembly.report.export.spread_sheet import spread_sheet
        from assembly.report.text.layout import Line

        table = folder / "spread.csv"
        write_whole(table, spread_sheet(record))
        common.beside([Line(""), Line(f"table:   {table}")], as_json=as_json)
    common.show(verdict)
    return common.BY_VERDICT[record.verdict]
