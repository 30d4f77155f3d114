"""``swingroom wheels``."""

from __future__ import annotations

from pathlib import Path

import click

from assembly.commands import common


@click.command()
@common.FILE
@click.option("--down", metavar="DRIVE", help="Down the tables.  [default: the drive that leans the frame most]")
@click.option("--across", metavar="DRIVE", help="Across them.  [default: the drive that steers most]")
@click.option(
    "--grid", "steps", type=click.IntRange(min=2, max=201), default=5, help="Settings along each.  [default: 5]"
)
@click.option("--over-range", is_flag=True, help="Tell least and most of every figure over the range, proven.")
@common.TIME
@common.MEMORY
@common.ALL
@common.JSON
def wheels(
    file: Path, down: str | None, across: str | None, steps: int, over_range: bool, everything: bool, as_json: bool
) -> common.ExitStatus:
    """Tell how the wheels of FILE point over lean and steer, and how the frame leans on the road under them.

    Exit status: 0 every limit is kept, or none is given; 1 a figure goes beyond a limit; 3 not decided.
    """
    from assembly.api.loading import load
    from assembly.report.text.wheels_text import wheels_blocks

    machine = load(file)
    from assembly.api.wheels import wheels as wheels_of

    record = wheels_of(machine, down=down, across=across, steps=steps, over_range=over_range)
    common.show(common.answer_in_short(record, wheels_blocks, everything=everything, as_json=as_json))
    return common.BY_VERDICT[record.verdict]
