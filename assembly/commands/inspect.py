"""``swingroom inspect``."""

from __future__ import annotations

from pathlib import Path

import click

from assembly.commands import common


@click.command()
@common.FILE
@common.ALL
@common.TIME
@common.JSON
def inspect(file: Path, everything: bool, as_json: bool) -> common.ExitStatus:
    """List what FILE holds: parts, meshes, joints, freedoms, loops, and the pairs that are not checked."""
    from assembly.api.loading import load

    machine = load(file)
    from assembly.api import questions
    from assembly.report.text.inspect_text import inspect_blocks, inspect_screen

    record = questions.inspect(machine)
    told = inspect_blocks if everything else inspect_screen
    common.show(common.answer_in_short(record, told, everything=everything, as_json=as_json, files=0))
    if record.faults:
        return common.ExitStatus.FAILS if record.drives else common.ExitStatus.INPUT
    return common.ExitStatus.CLEAR
