"""``swingroom inspect``."""

from __future__ import annotations

from pathlib import Path

import click

from assembly.commands.common import FILE, JSON, ExitStatus, answer


@click.command()
@FILE
@JSON
def inspect(file: Path, as_json: bool) -> ExitStatus:
    """List what FILE holds: parts, meshes, joints, freedoms, loops, and the pairs that are not checked."""
    from assembly.model.reader import read_machine
    from assembly.report.text.inspect_text import inspect_blocks
    from assembly.studies.inventory import inventory

    record = inventory(read_machine(file))
    answer(record, inspect_blocks, as_json=as_json)
    return ExitStatus.FAILS if record.faults else ExitStatus.CLEAR
