"""``swingroom wheels``."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

import click

from assembly.commands import common


@click.command()
@common.FILE
@click.option("--down", metavar="DRIVE", help="Down the tables.  [default: the drive that leans the frame most]")
@click.option("--across", metavar="DRIVE", help="Across them.  [default: the drive that steers most]")
@click.option(
    "--grid", "steps", type=click.IntRange(min=2, max=201), default=5, help="Settings along each.  [default: 5]"
)
@click.option("--over-range", is_flag=True, help="Tell least and most of every figure over the range, proven.")
@click.option("--csv", "as_table", is_flag=True, help="Write wheels.csv and a picture of the curves.")
@common.TIME
@common.MEMORY
@common.SVG
@common.OUT
@common.NO_PICTURE
@common.ALL
@common.JSON
def wheels(
    file: Path,
    down: str | None,
    across: str | None,
    steps: int,
    over_range: bool,
    as_table: bool,
    svg: bool,
    out: Path | None,
    no_picture: bool,
    everything: bool,
    as_json: bool,
) -> common.ExitStatus:
    """Tell how the wheels of FILE point over lean and steer, and how the frame leans on the road under them.

    Exit status: 0 every limit is kept, or none is given; 1 a figure goes beyond a limit; 3 not decided.
    """
    from assembly.api.loading import load
    from assembly.report.text.wheels_text import wheels_blocks, wheels_headline

    machine = load(file)
    from assembly.api.wheels import as_measures
    from assembly.api.wheels import wheels as wheels_of

    folder = common.results_folder(out, file) if as_table else None
    record = wheels_of(machine, down=down, across=across, steps=steps, over_range=over_range)
    verdict = common.answer_in_short(
        record, wheels_blocks, everything=everything, as_json=as_json, files=None if folder else 0
    )
    if folder is not None:
        from assembly.report.charts.map_files import map_file_lines, write_measures
        from assembly.report.export.measures_sheet import measures_sheet

        along, kind = as_measures(record), None if no_picture or not record.tables.track.along else _kind(svg=svg)
        title = wheels_headline(record).text
        common.beside(
            map_file_lines(write_measures(along, measures_sheet(along), folder / "wheels", kind, title)),
            as_json=as_json,
        )
    common.show(verdict)
    return common.BY_VERDICT[record.verdict]


def _kind(*, svg: bool) -> Literal["svg", "png"]:
    return "svg" if svg else "png"
