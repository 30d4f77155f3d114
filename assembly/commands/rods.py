"""``swingroom rods``."""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path

import click

from assembly.arguments import AnyNumber, NameValue, Positive
from assembly.commands import common
from assembly.errors import Fault, InputError


@click.command()
@common.FILE
@click.option("--rod", "names", multiple=True, metavar="NAME", help="Only this rod.  [default: all]")
@click.option("--length", type=Positive(), metavar="MM", help="Tell the turns to this length from ball to ball.")
@click.option(
    "--measure", "wanted", type=NameValue(), help="Tell the turns until this measure of FILE, at 0, comes to a value."
)
@click.option(
    "--toe", type=AnyNumber(), metavar="MM", help="Tell the turns to this total toe-in of a pair, and sweep that."
)
@click.option("--set", "settings", type=NameValue(), multiple=True, help="A drive's setting as spanners are tried.")
@click.option("--swept", is_flag=True, help="Sweep FILE with that length, or half a turn longer and shorter.")
@common.TIME
@common.CORES
@common.MEMORY
@common.RECOMPUTE
@common.ALL
@common.JSON
def rods(
    file: Path,
    names: tuple[str, ...],
    length: float | None,
    wanted: tuple[str, float] | None,
    toe: float | None,
    settings: tuple[tuple[str, float], ...],
    swept: bool,
    cores: int,
    recompute: bool,
    everything: bool,
    as_json: bool,
) -> common.ExitStatus:
    """Tell what the threads of the rods of FILE hold, what a turn of each does, and the turns to another length.

    Exit status: 0 every rule of engagement that FILE picks is kept, or none is picked; 1 one is not.
    """
    from assembly.api.loading import load
    from assembly.report.text.rods_text import rods_blocks
    from assembly.report.text.run_files import command_line
    from assembly.report.text.terminal import progress

    asked = [name for name, one in (("--length", length), ("--measure", wanted), ("--toe", toe)) if one is not None]
    if len(asked) > 1:
        raise InputError(Fault(f"{' and '.join(asked)} are asked for at once", hint="give one of them"))
    machine = load(file)
    from assembly.api.rods import rods

    with progress(sys.stderr) as told:
        record = rods(
            machine,
            names,
            length=length,
            wanted=wanted,
            settings=common.once_each(settings),
            toe=toe,
            swept=swept,
            cores=cores,
            progress=told,
            cached=not recompute,
        )
    blocks = partial(rods_blocks, command=command_line("rods", file))
    common.show(common.answer_in_short(record, blocks, everything=everything, as_json=as_json, files=0))
    return common.BY_VERDICT[record.verdict]
