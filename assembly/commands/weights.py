"""``swingroom weights``."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import click

from assembly.commands import common


@click.command()
@common.FILE
@common.TIME
@common.ALL
@common.JSON
def weights(file: Path, everything: bool, as_json: bool) -> common.ExitStatus:
    """Tell what FILE weighs by its [weights], where its centre goes, how it leans and where it would turn over.

    Exit status: 0 every part has a mass, 3 one has none.
    """
    from assembly.api.loading import load
    from assembly.report.text.run_files import command_line
    from assembly.report.text.weights_text import weights_blocks

    machine = load(file)
    from assembly.api.weighing import weights

    record = weights(machine)
    blocks = partial(weights_blocks, command=command_line("weights", file))
    common.show(common.answer_in_short(record, blocks, everything=everything, as_json=as_json, files=0))
    return common.ExitStatus.UNDECIDED if record.unknown else common.ExitStatus.CLEAR
