"""``swingroom measures``."""

from __future__ import annotations

from pathlib import Path

import click

from assembly.arguments import NameValue
from assembly.commands import common


@click.command()
@common.FILE
@click.option("--along", multiple=True, metavar="DRIVE", help="Tell them along a drive, setting by setting; or two.")
@click.option(
    "--grid", "steps", type=click.IntRange(min=2, max=1000), help="Settings along each.  [default: 13; 13 by 5]"
)
@click.option("--set", "settings", type=NameValue(), multiple=True, help="Hold another drive; others stay at 0.")
@click.option("--csv", "as_table", is_flag=True, help="Write measures.csv, which --along does in any case.")
@common.TIME
@common.MEMORY
@common.SVG
@common.OUT
@common.NO_PICTURE
@common.ALL
@common.JSON
def measures(
    file: Path,
    along: tuple[str, ...],
    steps: int | None,
    settings: tuple[tuple[str, float], ...],
    as_table: bool,
    svg: bool,
    out: Path | None,
    no_picture: bool,
    everything: bool,
    as_json: bool,
) -> common.ExitStatus:
    """Tell what the measures of FILE come to: with all drives at 0, and least and most over the whole range.

    Exit status: 0 every limit is kept, or none is given; 1 a measure goes beyond a limit; 3 not decided.
    """
    from assembly.api.loading import load
    from assembly.report.text.measures_text import measures_blocks

    held = common.once_each(settings)
    machine = load(file)
    from assembly.api.measuring import measures as measures_of

    folder = common.results_folder(out, file) if along or as_table else None
    record = measures_of(machine, along=along, held=held, steps=steps)
    verdict = common.answer_in_short(
        record, measures_blocks, everything=everything, as_json=as_json, files=None if folder else 0
    )
    if folder is not None:
        from assembly.report.charts.map_files import map_file_lines, write_measures
        from assembly.report.export.measures_sheet import measures_sheet

        drawn = bool(along) and not no_picture
        sheet, stem = measures_sheet(record), folder / "measures"
        files = write_measures(record, sheet, stem, ("svg" if svg else "png") if drawn else None)
        common.beside(map_file_lines(files), as_json=as_json)
    common.show(verdict)
    return common.BY_VERDICT[record.verdict]
