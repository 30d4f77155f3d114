"""``swingroom variants``."""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from assembly.commands import common
from assembly.errors import Fault, InputError
from assembly.report.text.run_files import command_line

if TYPE_CHECKING:
    from assembly.record import VariantsRecord
    from assembly.report.charts.map_files import PictureKind


@click.command()
@common.FILE
@click.option(
    "--vary",
    multiple=True,
    metavar="NAME=VALUES",
    help="FROM:TO:STEP, a list 0,1,2, or counts such as `1,2 half turns of M8`; repeatable, each value with each.",
)
@click.option("--list", "sets", type=click.Path(path_type=Path), help="A CSV or TOML file with a set on each row.")
@common.WITHIN
@click.option("--no-stops", is_flag=True, help="Leave out the stops, which take most of the time.")
@common.TIME
@common.CORES
@common.CLUSTER
@common.MEMORY
@common.RECOMPUTE
@common.SVG
@common.NO_PICTURE
@common.OUT
@common.ALL
@common.JSON
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
) -> common.ExitStatus:
    """Sweep FILE with many sets of numbers and put what is found side by side.

    Each finished row is kept at once: the same command goes on where it was ended.
    """
    from assembly.api.loading import load

    _check_asked(vary, sets)
    machine = load(file)
    from assembly.api.variants.list_files import read_sets
    from assembly.api.variants.run import ROWS, variants
    from assembly.report.text.terminal import progress

    folder = common.results_folder(out, file)
    listed, kept = read_sets(sets) if sets is not None else [], folder / ROWS
    asked = partial(variants, machine, vary, sets=listed, keep=kept, within=within, stops=not no_stops, cores=cores)
    with progress(sys.stderr) as told:
        found = asked(progress=told, cached=not recompute)
    for each in found.notes:
        common.note(each)
    picture: PictureKind | None = None if no_picture else "svg" if svg else "png"
    _tell(found.record, folder, picture, command_line("sweep", file), everything=everything, as_json=as_json)
    return common.BY_VERDICT[found.record.verdict]


def _tell(
    record: VariantsRecord,
    folder: Path,
    picture: PictureKind | None,
    command: str,
    *,
    everything: bool,
    as_json: bool,
) -> None:
    """Write the files, and tell what was found whether they can be written or not."""
    from assembly.record import json_text, write_whole
    from assembly.report.charts.map_files import map_file_lines, write_variants
    from assembly.report.export.variants_sheet import variants_sheet
    from assembly.report.text.variants_text import variants_blocks

    blocks = partial(variants_blocks, command=command, everything=everything)
    try:
        write_whole(folder / "variants.json", json_text(record))
        files = write_variants(record, variants_sheet(record), folder, picture)
    finally:
        verdict = common.answer_in_short(record, blocks, everything=True, as_json=as_json)
    common.show(map_file_lines(files), sys.stderr if as_json else sys.stdout)
    common.show(verdict)


def _check_asked(vary: tuple[str, ...], sets: Path | None) -> None:
    """InputError where nothing is to be varied, or it is said in two ways."""
    if bool(vary) == (sets is not None):
        told = "--vary and --list are asked for at once" if vary else "nothing is varied"
        raise InputError(Fault(told, hint="give --vary NAME=VALUES, once or more, or --list FILE"))
