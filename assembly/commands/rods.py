"""``swingroom rods``."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import click

from assembly.arguments import Positive
from assembly.commands import common


@click.command()
@common.FILE
@click.option("--rod", "names", multiple=True, metavar="NAME", help="Only this rod.  [default: all]")
@click.option("--length", type=Positive(), metavar="MM", help="Tell the turns to this length from ball to ball.")
@common.TIME
@common.ALL
@common.JSON
def rods(
    file: Path, names: tuple[str, ...], length: float | None, everything: bool, as_json: bool
) -> common.ExitStatus:
    """Tell what the threads of the rods of FILE hold, what a turn of each does, and the turns to another length.

    Exit status: 0 every rule of engagement that FILE picks is kept, or none is picked; 1 one is not.
    """
    from assembly.api.loading import load
    from assembly.report.text.rods_text import rods_blocks
    from assembly.report.text.run_files import command_line

    machine = load(file)
    from assembly.api.rods import rods

    record = rods(machine, names, length=length)
    blocks = partial(rods_blocks, command=command_line("rods", file))
    common.show(common.answer_in_short(record, blocks, everything=everything, as_json=as_json))
    return common.BY_VERDICT[record.verdict]
