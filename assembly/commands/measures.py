"""``swingroom measures``."""

from __future__ import annotations

from pathlib import Path

import click

from assembly.commands import common


@click.command()
@common.FILE
@common.TIME
@common.MEMORY
@common.ALL
@common.JSON
def measures(file: Path, everything: bool, as_json: bool) -> common.ExitStatus:
    """Tell what the measures of FILE come to: with all drives at 0, and least and most over the whole range.

    Exit status: 0 every limit is kept, or none is given; 1 a measure goes beyond a limit; 3 not decided.
    """
    from assembly.api.loading import load
    from assembly.report.text.measures_text import measures_blocks

    machine = load(file)
    from assembly.api.measuring import measures as measures_of

    record = measures_of(machine)
    common.show(common.answer_in_short(record, measures_blocks, everything=everything, as_json=as_json))
    return common.BY_VERDICT[record.verdict]
