"""``swingroom checks``."""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path

import click

from assembly.arguments import NameValue, Positive
from assembly.commands import common
from assembly.errors import Fault, InputError


@click.command()
@common.FILE
@click.option(
    "--reading", "readings", type=NameValue(), multiple=True, metavar="CHECK=VALUE", help="What was read for a check."
)
@click.option("--error", type=Positive(), default=1.0, show_default=True, help="mm that a tape is off by.")
@click.option("--angle-error", type=Positive(), default=0.5, show_default=True, help="Degrees that angles are off by.")
@common.TIME
@common.CORES
@common.MEMORY
@common.RECOMPUTE
@common.ALL
@common.JSON
def checks(
    file: Path,
    readings: tuple[tuple[str, float], ...],
    error: float,
    angle_error: float,
    cores: int,
    recompute: bool,
    everything: bool,
    as_json: bool,
) -> common.ExitStatus:
    """Tell five numbers to measure on the machine that show soonest whether it is the one that was swept.

    Each with what it should be, plus and minus what reading and tolerances explain. Exit status: 0 all readings that
    are given agree; 1 one does not: look again.
    """
    from assembly.api.loading import load
    from assembly.report.text.checks_text import checks_blocks
    from assembly.report.text.run_files import command_line
    from assembly.report.text.terminal import progress

    given = dict(readings)
    if len(given) < len(readings):
        raise InputError(Fault("a check is given twice", hint="give each check one --reading"))
    machine = load(file)
    from assembly.api.checking import checks as checks_of

    with progress(sys.stderr) as told:
        record = checks_of(
            machine,
            readings=given,
            distance_error=error,
            angle_error=angle_error,
            cores=cores,
            progress=told,
            cached=not recompute,
        )
    blocks = partial(checks_blocks, command=command_line("checks", file))
    verdict = common.answer_in_short(record, blocks, everything=everything, as_json=as_json)
    common.show(verdict)
    return common.BY_VERDICT[record.verdict]
