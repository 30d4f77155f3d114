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
    from assembly.api import questions
    from assembly.report.text.inspect_text import inspect_blocks

    record = questions.inspect(questions.load(file))
    answer(record, inspect_blocks, as_json=as_json)
    return ExitStatus.FAILS if record.faults else ExitStatus.CLEAR
