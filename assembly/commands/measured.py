"""``swingroom measured``."""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path

import click

from assembly.commands import common


@click.command()
@common.FILE
@click.option("--no-sweep", is_flag=True, help="Fit the numbers only; sweep neither as drawn nor as it stands.")
@click.option(
    "--fitted", type=click.Path(path_type=Path), metavar="FILE.toml", help="Write the file with the fitted numbers."
)
@common.TIME
@common.CORES
@common.MEMORY
@common.RECOMPUTE
@common.ALL
@common.JSON
def measured(
    file: Path, no_sweep: bool, fitted: Path | None, cores: int, recompute: bool, everything: bool, as_json: bool
) -> common.ExitStatus:
    """Fit the machine that was measured: [measured] tables of FILE, and the numbers marked with may_differ.

    Tells what each number is ± what, which readings contradict each other, what to measure next, and sweeps the machine
    as it stands. Exit status: 0 all numbers are told and it is clear as it stands; 1 it fails as it stands; 3 readings
    contradict, a number stays open, or it is not decided.
    """
    from assembly.api.loading import load
    from assembly.report.text.run_files import command_line
    from assembly.report.text.survey_text import survey_blocks
    from assembly.report.text.terminal import progress

    target = None if fitted is None else _target(fitted, file)
    machine = load(file)
    from assembly.api.surveying import fit_measured

    with progress(sys.stderr) as told:
        found = fit_measured(machine, swept=not no_sweep, cores=cores, progress=told, cached=not recompute)
    if target is not None:
        from assembly.record import write_whole

        write_whole(target, found.fitted.text)
    blocks = partial(
        survey_blocks,
        command=command_line("measured", file),
        file=file.name,
        written="" if target is None else str(target),
    )
    verdict = common.answer_in_short(found.record, blocks, everything=everything, as_json=as_json)
    common.show(verdict)
    return common.BY_VERDICT[found.record.verdict]


def _target(fitted: Path, file: Path) -> Path:
    """The file to write, tried before anything long is computed: beside FILE, so that its meshes are found."""
    from assembly.errors import Fault, InputError
    from assembly.record import prepare_folder

    chosen = common.chosen_file(fitted, fitted, (".toml",))
    if chosen.resolve() == file.resolve():
        raise InputError(Fault("--fitted names FILE itself", hint="name another file; FILE stays as drawn"))
    prepare_folder(chosen.parent)
    return chosen
