"""``swingroom play``."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import click

from assembly.arguments import NameValue
from assembly.commands import common


@click.command()
@common.FILE
@click.option("--set", "settings", type=NameValue(), multiple=True, help="A drive's setting; others stay at 0.")
@click.option("--hold", "held", multiple=True, metavar="PART", help="Held as drives are shaken; else the wheels.")
@click.option("--radius", type=click.FloatRange(min=0, min_open=True), metavar="MM", help="Where rims are measured.")
@common.TIME
@common.ALL
@common.JSON
def play(
    file: Path,
    settings: tuple[tuple[str, float], ...],
    held: tuple[str, ...],
    radius: float | None,
    everything: bool,
    as_json: bool,
) -> common.ExitStatus:
    """Tell what the play of joints lets go by hand in FILE: rims of wheels, the bars, and every part.

    Exit status: 0 told, 3 of some of it no bound is proven.
    """
    from assembly.api.loading import load
    from assembly.report.text.play_text import play_text_blocks
    from assembly.report.text.run_files import command_line

    machine = load(file)
    from assembly.api.playing import play

    record = play(machine, common.once_each(settings), held, radius)
    blocks = partial(play_text_blocks, command=command_line("play", file))
    common.show(common.answer_in_short(record, blocks, everything=everything, as_json=as_json))
    bounds = [*(one.at_most_mm for one in record.rims), *(one.at_most_mm for one in record.parts)]
    proven = None not in bounds
    return common.ExitStatus.CLEAR if proven else common.ExitStatus.UNDECIDED
