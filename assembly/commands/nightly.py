"""``swingroom nightly``."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from assembly.arguments import Positive
from assembly.commands import common

BY_STANDING = {**common.BY_VERDICT, "input": common.ExitStatus.INPUT}


@click.command()
@click.argument("places", metavar="DIR...", nargs=-1, required=True, type=click.Path(path_type=Path))
@common.MESH_LIMIT
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=Path("nightly"),
    show_default=True,
    help="Where the folder of each night goes.",
)
@common.HISTORY
@click.option("--junit", type=click.Path(path_type=Path), help="Write the cases for a CI service here too.")
@common.ALLOW_LOSS
@click.option("--runs", type=click.IntRange(min=1), default=30, show_default=True, help="Runs in the trend picture.")
@common.WITHIN
@click.option("--time-limit", type=Positive(), help="Stop each machine after this many seconds.")
@common.CORES
@common.CLUSTER
@common.MEMORY
@common.RECOMPUTE
@common.NO_PICTURE
def nightly(
    places: tuple[Path, ...],
    out: Path,
    history: Path | None,
    junit: Path | None,
    allow_loss: float,
    runs: int,
    within: float,
    time_limit: float | None,
    cores: int,
    recompute: bool,
    no_picture: bool,
) -> common.ExitStatus:
    """Check every mechanism file in and below each DIR and tell what got worse since its last run.

    The exit status is that of the worst file.
    """
    from assembly.api.kept_runs import history_place
    from assembly.api.main_check import Effort
    from assembly.api.nights.nightly_run import NightPaths, run_night
    from assembly.api.nights.one_file import NightWish
    from assembly.progress import no_progress
    from assembly.report.text.terminal import progress

    effort = Effort(bracket_mm=within, budget_s=time_limit, cores=cores)
    wish = NightWish(effort, not no_picture, allow_loss, runs, recompute)
    paths = NightPaths(places, out, history_place(history), junit)
    with progress(sys.stderr) as told:
        # Progress is for someone who looks on; a mail of a nightly job holds results only.
        night = run_night(paths, wish, common.show, told if sys.stderr.isatty() else no_progress)
    return BY_STANDING[night.standing]
