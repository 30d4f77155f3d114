"""``swingroom propose``."""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path

import click

from assembly.arguments import NotNegative
from assembly.commands.common import BY_VERDICT, CORES, FILE, JSON, MEMORY, RECOMPUTE, TIME, ExitStatus, answer
from assembly.errors import Fault, InputError


@click.command()
@FILE
@click.option("--pair", nargs=2, metavar="PART PART", help="Two parts that are to keep --clearance.")
@click.option(
    "--clearance", type=NotNegative(), metavar="MM", help="What --pair is to keep, beyond what the file says."
)
@click.option(
    "--most", type=click.IntRange(min=1), default=3, show_default=True, help="Proposals looked for; each is swept."
)
@TIME
@CORES
@MEMORY
@RECOMPUTE
@JSON
def propose(
    file: Path,
    pair: tuple[str, str] | None,
    clearance: float | None,
    most: int,
    cores: int,
    recompute: bool,
    as_json: bool,
) -> ExitStatus:
    """Find the smallest change of the dimensions marked in FILE after which every rule holds.

    FILE marks what may change, such as bar = { value = 18, may_be = [16, 22] }. Every proposal was swept over the whole
    range. The exit status judges FILE as it is.
    """
    from assembly.api.loading import load
    from assembly.api.proposals.proposing import propose as proposals_of
    from assembly.report.text.proposal_text import proposal_blocks
    from assembly.report.text.run_files import command_line
    from assembly.report.text.terminal import progress

    if (pair is None) != (clearance is None):
        missing = "--clearance MM" if clearance is None else "--pair PART PART"
        raise InputError(Fault("--pair and --clearance belong together", hint=f"give {missing} too"))
    machine = load(file)
    with progress(sys.stderr) as told:
        record = proposals_of(
            machine, pair=pair, clearance=clearance, most=most, cores=cores, progress=told, cached=not recompute
        )
    sweeps, helps = command_line("sweep", file), command_line("helps", file)
    answer(record, partial(proposal_blocks, command=sweeps, helps=helps), as_json=as_json)
    return BY_VERDICT[record.verdict]
