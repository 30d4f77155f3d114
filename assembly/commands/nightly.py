"""``swingroom nightly``."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from assembly.arguments import NotNegative, Positive
from assembly.commands.common import BY_VERDICT, CORES, NO_PICTURE, ExitStatus, show
from assembly.commands.keeping import HISTORY, history_place
from assembly.commands.sweep_progress import ANEW, BRACKET
from assembly.errors import Fault, InputError

BY_STANDING = {**BY_VERDICT, "input": ExitStatus.INPUT}


@click.command()
@click.argument("places", metavar="DIR...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=Path("nightly"),
    show_default=True,
    help="Where the folder of each night goes.",
)
@HISTORY
@click.option("--junit", type=click.Path(path_type=Path), help="Write the cases for a CI service here too.")
@click.option(
    "--shrank", type=NotNegative(), default=0.5, show_default=True, help="mm that a clearance may lose without alarm."
)
@click.option("--runs", type=click.IntRange(min=1), default=30, show_default=True, help="Runs in the trend picture.")
@BRACKET
@click.option("--budget", type=Positive(), help="Stop each machine after this many seconds.")
@CORES
@ANEW
@NO_PICTURE
def nightly(
    places: tuple[Path, ...],
    out: Path,
    history: Path | None,
    junit: Path | None,
    shrank: float,
    runs: int,
    bracket: float,
    budget: float | None,
    cores: int,
    anew: bool,
    no_picture: bool,
) -> ExitStatus:
    """Check every mechanism file in and below each DIR and tell what got worse since its last run.

    The exit status is that of the worst file.
    """
    from assembly.api.main_check import Effort
    from assembly.commands.nights.finding import find_mechanisms
    from assembly.commands.nights.nightly_run import Places
    from assembly.commands.nights.nightly_run import nightly as work_through
    from assembly.commands.nights.one_file import Asked
    from assembly.report.text.terminal import progress
    from assembly.report.text.words import count

    found = find_mechanisms(places)
    if not found.files and not found.faults:
        where = ", ".join(map(str, places))
        seen = f" ({count(len(found.others), 'other TOML file')})" if found.others else ""
        hint = "a mechanism file is a .toml with `format = 1` and `[parts...]`"
        raise InputError(Fault(f"there is no mechanism file in {where}{seen}", hint=hint))
    effort = Effort(bracket_mm=bracket, budget_s=budget, cores=cores)
    asked = Asked(effort, not no_picture, shrank, runs, anew)
    with progress(sys.stderr) as told:
        shown = told if sys.stderr.isatty() else _quiet
        night = work_through(found, Places(out, history_place(history), junit), asked, show, shown)
    return BY_STANDING[night.standing]


def _quiet(stage: str, done: int, total: int) -> None:
    """Progress is for someone who looks on; a mail of a nightly job holds results only."""
