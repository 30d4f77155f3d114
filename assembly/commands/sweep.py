"""``swingroom sweep``."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from assembly.arguments import Positive
from assembly.commands.common import (
    BY_VERDICT,
    CORES,
    FILE,
    JSON,
    NO_PICTURE,
    OUT,
    ExitStatus,
    command_line,
    nearest_scene,
    say,
    show,
)
from assembly.commands.keeping import HISTORY, keep, place_to_keep
from assembly.commands.sweeping import ANEW, run_sweep

RECORD = "record.json"
CLOSEST = "closest.png"


@click.command()
@FILE
@click.option("--bracket", type=Positive(), default=0.1, show_default=True, help="Close in to this many mm (or 2 %).")
@click.option("--budget", type=Positive(), help="Stop after this many seconds; what is open then stays undecided.")
@CORES
@ANEW
@OUT
@click.option("--keep", "kept", is_flag=True, help="Keep the run in the history; --history PATH does so too.")
@HISTORY
@NO_PICTURE
@JSON
def sweep(
    file: Path,
    bracket: float,
    budget: float | None,
    cores: int,
    anew: bool,
    out: Path | None,
    kept: bool,
    history: Path | None,
    no_picture: bool,
    as_json: bool,
) -> ExitStatus:
    """Check every pair of parts of FILE over the whole range of its drives."""
    from assembly.clearance.outcome import Effort
    from assembly.model.reader import read_machine
    from assembly.record import json_text, prepare_folder, save
    from assembly.report.advice import closing
    from assembly.report.files import Files, with_picture
    from assembly.report.sweep_text import sweep_blocks
    from assembly.report.terminal import progress

    machine = read_machine(file)
    folder = out or Path("results") / file.stem
    prepare_folder(folder)
    place = place_to_keep(history, asked=kept)
    with progress(sys.stderr) as told:
        swept = run_sweep(machine, Effort(bracket_mm=bracket, budget_s=budget, cores=cores), told, anew=anew)
    record = swept.record
    say("".join(f"{note}\n" for note in swept.notes), sys.stderr)
    try:
        save(record, folder / RECORD)
    finally:
        say(json_text(record)) if as_json else show(sweep_blocks(record))
        kept_as = keep(swept, file, place) if place else ""
    files, scene = Files(folder / RECORD), nearest_scene(swept.checked)
    if not no_picture and scene is not None:
        files = with_picture(files, scene, folder / CLOSEST)
    stream = sys.stderr if as_json else sys.stdout
    show(closing(record, files, command_line("sweep", file)), stream)
    say(kept_as, stream)
    return BY_VERDICT[record.verdict]
