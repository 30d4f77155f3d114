"""``swingroom helps``."""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path

import click

from assembly.arguments import NotNegative
from assembly.commands import common
from assembly.errors import Fault, InputError


@click.command()
@common.FILE
@click.option("--pair", nargs=2, metavar="PART PART", help="The two parts to set apart.  [default: the worst pair]")
@click.option("--joint", metavar="NAME", help="Ask about what a joint keeps of its limit instead.")
@click.option("--measure", metavar="NAME", help="Ask about a measure instead.")
@click.option(
    "--to", "wanted", type=NotNegative(), metavar="MM", help="What the two are to keep; tries numbers for it."
)
@click.option("--change", "number", metavar="NAME", help="Tell instead what this one number does to every figure.")
@click.option(
    "--most", type=click.IntRange(min=1), default=3, show_default=True, help="Answers looked for; each is swept."
)
@common.TIME
@common.CORES
@common.CLUSTER
@common.MEMORY
@common.RECOMPUTE
@common.JSON
def helps(
    file: Path,
    pair: tuple[str, str] | None,
    joint: str | None,
    measure: str | None,
    wanted: float | None,
    number: str | None,
    most: int,
    cores: int,
    recompute: bool,
    as_json: bool,
) -> common.ExitStatus:
    """Tell which numbers of FILE give a pair more clearance, and by how much each has to change.

    Every number that is offered was put into the machine and swept over the whole range.
    """
    from assembly.api.loading import load
    from assembly.report.text.help_text import help_blocks
    from assembly.report.text.run_files import command_line
    from assembly.report.text.terminal import progress

    asked = {"--pair": pair, "--joint": joint, "--measure": measure, "--to": wanted, "--change": number}
    _check_asked({name for name, value in asked.items() if value is not None})
    machine = load(file)
    from assembly.api.what_helps import what_helps

    with progress(sys.stderr) as told:
        record = what_helps(
            machine,
            pair,
            joint=joint,
            measure=measure,
            wanted=wanted,
            number=number,
            most=most,
            cores=cores,
            progress=told,
            cached=not recompute,
        )
    blocks = partial(help_blocks, command=command_line("sweep", file), number=number)
    common.show(common.answer_in_short(record, blocks, everything=True, as_json=as_json))
    return common.BY_VERDICT[record.verdict]


def _check_asked(asked: set[str]) -> None:
    """InputError for two questions at once: only how much two parts are to keep goes with the two parts."""
    if len(asked) > 1 and asked != {"--pair", "--to"}:
        names = " and ".join(sorted(asked))
        raise InputError(Fault(f"{names} are asked for at once", hint="give one of them; --to MM goes with --pair"))
