"""``swingroom sweep``."""

from __future__ import annotations

import sys
from functools import partial
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
    pair_picture,
    say,
    show,
)

RECORD = "record.json"
CLOSEST = "closest.png"


@click.command()
@FILE
@click.option("--bracket", type=Positive(), default=0.1, show_default=True, help="Close in to this many mm (or 2 %).")
@click.option("--budget", type=Positive(), help="Stop after this many seconds; what is open then stays undecided.")
@CORES
@OUT
@NO_PICTURE
@JSON
def sweep(
    file: Path, bracket: float, budget: float | None, cores: int, out: Path | None, no_picture: bool, as_json: bool
) -> ExitStatus:
    """Check every pair of parts of FILE over the whole range of its drives."""
    from assembly.clearance.joint_search import JointSearch
    from assembly.clearance.outcome import Effort
    from assembly.model.reader import read_machine
    from assembly.record import check_record, json_text, prepare_folder, save
    from assembly.report.advice import closing
    from assembly.report.files import Files, with_picture
    from assembly.report.sweep_text import sweep_blocks
    from assembly.report.terminal import progress
    from assembly.studies.check import check
    from assembly.studies.joint_ranges import joint_ranges
    from assembly.studies.rod_rolls import rod_rolls

    machine = read_machine(file)
    folder = out or Path("results") / file.stem
    prepare_folder(folder)
    with progress(sys.stderr) as told:
        checked = check(machine, Effort(bracket_mm=bracket, budget_s=budget, cores=cores), told)
        told("joints", 0, 0)
        search = JointSearch(checked.mechanism, checked.swept.cells)
        joints = joint_ranges(checked.mechanism, search)
        record = check_record(checked, joints, rod_rolls(checked.mechanism, search))
    try:
        save(record, folder / RECORD)
    finally:
        if as_json:
            say(json_text(record))
        else:
            show(sweep_blocks(record))
    files, nearest = Files(folder / RECORD), next(iter(checked.found), None)
    shown = nearest and (nearest.result.overlap or nearest.witness)
    if not no_picture and nearest and shown:
        scene = partial(pair_picture, checked.mechanism, nearest.result.at, nearest.result.pair, shown)
        files = with_picture(files, scene, folder / CLOSEST)
    show(closing(record, files, command_line("sweep", file)), sys.stderr if as_json else sys.stdout)
    return BY_VERDICT[record.verdict]
