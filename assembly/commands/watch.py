"""``swingroom watch``."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from assembly.arguments import Positive
from assembly.commands import common

if TYPE_CHECKING:
    from assembly.api.watching import Event
    from assembly.report.text.layout import Block


@click.command()
@common.FILE
@common.ALLOW_LOSS
@common.WITHIN
@click.option("--time-limit", type=Positive(), help="Stop each sweep after this many seconds.")
@common.CORES
@common.CLUSTER
@common.MEMORY
def watch(file: Path, allow_loss: float, within: float, time_limit: float | None, cores: int) -> common.ExitStatus:
    """Check FILE, and again whenever it or one of its mesh files is saved, until Ctrl-C.

    Each time it tells in a few lines what has changed since the start. The exit status is that of the last check.
    """
    from assembly.api.main_check import Effort
    from assembly.api.watching import Broken, Checked, watch_file

    sweep = partial(common.sweep_aloud, effort=Effort(bracket_mm=within, budget_s=time_limit, cores=cores))
    status = common.ExitStatus.INTERRUPTED
    try:
        for event in watch_file(file, sweep, allow_loss):
            if isinstance(event, Checked):
                status = common.BY_VERDICT[event.swept.verdict]
            elif isinstance(event, Broken):
                status = common.BY_ERROR.get(type(event.error), common.ExitStatus.INPUT)
            common.show(_blocks(event, file))
    except KeyboardInterrupt:
        common.say("\n")
    return status


def _blocks(event: Event, file: Path) -> Iterator[Block]:
    from assembly.api.watching import Broken, Checked, Saved
    from assembly.report.text.run_files import command_line
    from assembly.report.text.watch_text import broken_blocks, difference_blocks, same_line, saved_line, start_blocks

    if isinstance(event, Saved):
        yield saved_line(f"{datetime.now():%H:%M:%S}", event.names)
    elif isinstance(event, Broken):
        yield from () if event.again else broken_blocks(tuple(map(str, event.error.faults)))
    elif not isinstance(event, Checked):
        yield same_line()
    elif event.since_start is None:
        yield from start_blocks(event.swept.record, command_line("sweep", file), event.helps)
    else:
        swept, command = event.swept, command_line("sweep", file)
        yield from difference_blocks(event.since_start, swept.record, swept.seconds, command, event.helps)
