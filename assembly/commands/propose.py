"""``swingroom propose``."""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from assembly.arguments import NotNegative
from assembly.commands.common import (
    BY_VERDICT,
    CORES,
    FILE,
    JSON,
    MEMORY,
    OUT,
    RECOMPUTE,
    TIME,
    ExitStatus,
    answer_in_short,
    results_folder,
    show,
    tell_files,
)
from assembly.errors import Fault, InputError, TimeLimitError

if TYPE_CHECKING:
    from assembly.record import ProposalRecord
    from assembly.report.text.run_files import Files


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
@OUT
@click.option("--map", "mapped", is_flag=True, help="Also draw the map as FILE is beside that of proposal 1.")
@JSON
def propose(
    file: Path,
    pair: tuple[str, str] | None,
    clearance: float | None,
    most: int,
    cores: int,
    recompute: bool,
    out: Path | None,
    mapped: bool,
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
    blocks = partial(proposal_blocks, command=sweeps, helps=helps)
    verdict = answer_in_short(record, blocks, everything=True, as_json=as_json)
    if mapped:
        tell_files(_mapped(file, record, results_folder(out, file), cores), as_json=as_json)
    show(verdict)
    return BY_VERDICT[record.verdict]


def _mapped(file: Path, record: ProposalRecord, folder: Path, cores: int) -> Files:
    """Draw both maps; the answer above stands whatever comes of that."""
    from assembly.api.loading import load
    from assembly.api.proposals.mapped_change import proposal_maps
    from assembly.report.charts.proposal_map import draw_proposal_map
    from assembly.report.text.run_files import Files
    from assembly.report.text.terminal import progress

    picture = folder / "proposal_map.png"
    try:
        with progress(sys.stderr) as told:
            maps = proposal_maps(load(file), record, told, cores)
        if maps is None:
            return Files(picture_note="none was drawn: there is no proposal to map")
        draw_proposal_map(record, maps, picture)
    except TimeLimitError as error:
        return Files(picture_note=f"none was drawn: {error.told}")
    return Files(picture=picture)
