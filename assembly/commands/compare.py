"""``swingroom compare``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from assembly.arguments import Positive
from assembly.commands import common

if TYPE_CHECKING:
    from assembly import Machine
    from assembly.record import Record


@click.command()
@click.argument("runs", nargs=-1, required=True, metavar="[BEFORE] NOW")
@common.MESH_LIMIT
@common.ALLOW_LOSS
@click.option("--time-limit", type=Positive(), help="Stop a sweep after this many seconds.")
@common.CORES
@common.CLUSTER
@common.MEMORY
@common.HISTORY
@common.ALL
@common.JSON
def compare(
    runs: tuple[str, ...],
    allow_loss: float,
    time_limit: float | None,
    cores: int,
    history: Path | None,
    everything: bool,
    as_json: bool,
) -> common.ExitStatus:
    """Tell what got worse or better from BEFORE to NOW, and what was edited.

    Each is the number of a kept run, a record.json, or a mechanism file, which is swept now. Without BEFORE it is the
    last kept run of the same machine that was clear. Exit status 1: something fails that did not, or a clearance lost
    more than --allow-loss.
    """
    from assembly.api.compared_runs import RunSources
    from assembly.api.kept_runs import history_place
    from assembly.api.main_check import Effort
    from assembly.report.text.compare_text import compare_blocks, compare_screen

    def sweep(machine: Machine) -> Record:
        return common.sweep_aloud(machine, Effort(budget_s=time_limit, cores=cores)).record

    found = RunSources(history_place(history), sweep, common.note).compared(runs, allow_loss)
    common.answer(found, compare_blocks if everything else compare_screen, as_json=as_json)
    if found.worse:
        return common.ExitStatus.FAILS
    return common.ExitStatus.UNDECIDED if found.opened else common.ExitStatus.CLEAR
