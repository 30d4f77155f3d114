"""``swingroom cables``."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import click

from assembly.commands import common


@click.command()
@common.FILE
@click.option("--csv", "as_table", is_flag=True, help="Write cables.csv.")
@common.TIME
@common.MEMORY
@common.OUT
@common.ALL
@common.JSON
def cables(file: Path, as_table: bool, out: Path | None, everything: bool, as_json: bool) -> common.ExitStatus:
    """Tell the lengths to cut of the cables of FILE, what the motion pulls, and whether splitters bottom out.

    Exit status: 0 every limit is kept, or none is given; 1 a cable is too short, pulled or bent too tight; 3 not
    decided.
    """
    from assembly.api.loading import load
    from assembly.report.text.cables_text import cables_blocks
    from assembly.report.text.layout import Line
    from assembly.report.text.run_files import command_line

    machine = load(file)
    from assembly.api.cabling import cables

    folder = common.results_folder(out, file) if as_table else None
    record = cables(machine)
    blocks = partial(cables_blocks, command=command_line("cables", file))
    verdict = common.answer_in_short(
        record, blocks, everything=everything, as_json=as_json, files=None if folder else 0
    )
    if folder is not None:
        from assembly.report.export.cables_sheet import write_cables

        common.beside((Line(f"table:   {write_cables(record, folder)}"),), as_json=as_json)
    common.show(verdict)
    return common.BY_VERDICT[record.verdict]
