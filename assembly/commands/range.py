"""``swingroom range``."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from assembly.commands.common import (
    CORES,
    FILE,
    HELD,
    JSON,
    OUT,
    SVG,
    ExitStatus,
    command_line,
    once_each,
    results_folder,
    say,
    show,
)


@click.command("range")
@FILE
@click.option("--cells", type=click.IntRange(min=1), help="Cells along each drive.  [default: 30; one drive: 120]")
@HELD
@CORES
@SVG
@OUT
@JSON
def range_(
    file: Path,
    cells: int | None,
    held: tuple[tuple[str, float], ...],
    cores: int,
    svg: bool,
    out: Path | None,
    as_json: bool,
) -> ExitStatus:
    """Draw where the drives of FILE can go with every rule kept, also beyond its range, and tell what ends it."""
    from assembly.model.reader import read_machine
    from assembly.record import json_text, range_record
    from assembly.report.charts.map_files import map_file_lines, write_range
    from assembly.report.text.range_text import range_blocks
    from assembly.report.text.terminal import progress
    from assembly.studies.usable_range import RangeWish, usable_range

    wish = RangeWish(cells, once_each(held))
    machine = read_machine(file)
    folder = results_folder(out, file)
    with progress(sys.stderr) as told:
        record = range_record(usable_range(machine, wish, told, cores))
    try:
        files = write_range(record, folder, "svg" if svg else "png")
    finally:
        if as_json:
            say(json_text(record))
        else:
            show(range_blocks(record, command_line("sweep", file)))
    show(map_file_lines(files), sys.stderr if as_json else sys.stdout)
    if record.undecided:
        return ExitStatus.UNDECIDED
    return ExitStatus.CLEAR if record.fits else ExitStatus.FAILS
