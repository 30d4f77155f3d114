"""``swingroom grind``."""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path

import click

from assembly.arguments import NotNegative
from assembly.commands.common import (
    BY_VERDICT,
    CORES,
    FILE,
    JSON,
    MEMORY,
    NO_PICTURE,
    OUT,
    RECOMPUTE,
    TIME,
    ExitStatus,
    answer_in_short,
    results_folder,
    say,
    show,
    tell_files,
)

RECORD = "grind.json"


@click.command()
@FILE
@click.option("--pair", nargs=2, metavar="PART PART", help="The two parts.  [default: the pair that fails worst]")
@click.option("--clearance", type=NotNegative(), metavar="MM", help="What the two are to keep.  [default: as required]")
@TIME
@CORES
@MEMORY
@OUT
@NO_PICTURE
@RECOMPUTE
@JSON
def grind(
    file: Path,
    pair: tuple[str, str] | None,
    clearance: float | None,
    cores: int,
    out: Path | None,
    no_picture: bool,
    recompute: bool,
    as_json: bool,
) -> ExitStatus:
    """Tell how much to grind off either part of a pair of FILE, and where, so that it keeps its clearance.

    Writes STL files of what goes and of what stays. What is advised was swept so over the whole range.
    """
    from assembly.api.loading import load

    machine = load(file)
    from assembly.api.grinding import grind as ask
    from assembly.record import json_text, write_whole
    from assembly.report.render.optional_picture import depth_drawn
    from assembly.report.text.grind_text import grind_blocks
    from assembly.report.text.run_files import command_line
    from assembly.report.text.terminal import progress

    folder = results_folder(out, file)
    with progress(sys.stderr) as told:
        found = ask(machine, pair, clearance=clearance, cores=cores, progress=told, cached=not recompute)
    blocks = partial(grind_blocks, command=command_line("sweep", file))
    try:
        write_whole(folder / RECORD, json_text(found.record))
    finally:
        verdict = answer_in_short(found.record, blocks, everything=True, as_json=as_json)
    stream = sys.stderr if as_json else sys.stdout
    say(f"record:  {folder / RECORD}\n", stream)
    for word, solids in (("gone", found.gone), ("stays", found.kept)):
        for name, content in solids.items():
            write_whole(folder / f"grind_{name}_{word}.stl", content)
            say(f"solid:   {folder / f'grind_{name}_{word}.stl'}\n", stream)
    for name, scene in {} if no_picture else found.scenes.items():
        tell_files(depth_drawn(scene, folder / f"grind_{name}.png"), as_json=as_json)
    show(verdict)
    return BY_VERDICT[found.record.verdict]
