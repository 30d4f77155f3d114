"""``swingroom variants``."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from assembly.commands.common import (
    ALL,
    BY_VERDICT,
    CORES,
    FILE,
    JSON,
    MEMORY,
    NO_PICTURE,
    OUT,
    RECOMPUTE,
    SVG,
    TIME,
    WITHIN,
    ExitStatus,
    answer,
    note,
    results_folder,
    show,
)
from assembly.errors import Fault, InputError


@click.command()
@FILE
@click.option(
    "--vary",
    multiple=True,
    metavar="NAME=VALUES",
    help="FROM:TO:STEP, a list 0,1,2, or counts such as `1,2 half turns of M8`; repeatable, each value with each.",
)
@click.option("--list", "sets", type=click.Path(path_type=Path), help="A CSV or TOML file with a set on each row.")
@WITHIN
@click.option("--no-stops", is_flag=True, help="Leave out the stops, which take most of the time.")
@TIME
@CORES
@MEMORY
@RECOMPUTE
@SVG
@NO_PICTURE
@OUT
@ALL
@JSON
def variants(
    file: Path,
    vary: tuple[str, ...],
    sets: Path | None,
    within: float,
    no_stops: bool,
    cores: int,
    recompute: bool,
    svg: bool,
    no_picture: bool,
    out: Path | None,
    everything: bool,
    as_json: bool,
) -> ExitStatus:
    """Sweep FILE with many sets of numbers and put what is found side by side.

    Each finished row is kept at once: the same command goes on where it was ended.
    """
    from assembly.api.questions import load
    from assembly.api.variants.list_files import read_sets
    from assembly.api.variants.run import ROWS, variants
    from assembly.record import json_text, write_whole
    from assembly.report.charts.map_files import map_file_lines, write_variants
    from assembly.report.export.variants_sheet import variants_sheet
    from assembly.report.text.run_files import command_line
    from assembly.report.text.terminal import progress
    from assembly.report.text.variants_text import variants_blocks

    _check_asked(vary, sets)
    machine = load(file)
    listed = read_sets(sets) if sets is not None else []
    folder = results_folder(out, file)
    with progress(sys.stderr) as told:
        found = variants(
            machine,
            vary,
            sets=listed,
            keep=folder / ROWS,
            within=within,
            stops=not no_stops,
            cores=cores,
            progress=told,
            cached=not recompute,
        )
    for each in found.notes:
        note(each)
    record, command = found.record, command_line("sweep", file)
    try:
        write_whole(folder / "variants.json", json_text(record))
        sheet = variants_sheet(record)
        files = write_variants(record, sheet, folder, None if no_picture else "svg" if svg else "png")
    finally:
        answer(record, lambda made: variants_blocks(made, command, everything=everything), as_json=as_json)
    show(map_file_lines(files), sys.stderr if as_json else sys.stdout)
    return BY_VERDICT[record.verdict]


def _check_asked(vary: tuple[str, ...], sets: Path | None) -> None:
    """InputError where nothing is to be varied, or it is said in two ways."""
    if bool(vary) == (sets is not None):
        told = "--vary and --list are asked for at once" if vary else "nothing is varied"
        raise InputError(Fault(told, hint="give --vary NAME=VALUES, once or more, or --list FILE"))
