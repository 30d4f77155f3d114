"""``swingroom loads``."""

from __future__ import annotations

from pathlib import Path

import click

from assembly.arguments import NameValue
from assembly.commands import common

STATUS = {
    "within": common.ExitStatus.CLEAR,
    "not rated": common.ExitStatus.CLEAR,
    "exceeded": common.ExitStatus.FAILS,
    "open": common.ExitStatus.UNDECIDED,
}


@click.command()
@common.FILE
@common.TIME
@click.option("--case", "cases", multiple=True, metavar="NAME", help="Only this load case.  [default: all]")
@click.option("--set", "settings", type=NameValue(), multiple=True, help="A drive's setting; others stay at 0.")
@click.option("--worst", is_flag=True, help="The worst of the whole range; drives that are --set are held there.")
@common.CORES
@common.CLUSTER
@common.MEMORY
@common.ALL
@common.JSON
def loads(
    file: Path,
    cases: tuple[str, ...],
    settings: tuple[tuple[str, float], ...],
    worst: bool,
    cores: int,
    everything: bool,
    as_json: bool,
) -> common.ExitStatus:
    """Tell what each joint and drive of FILE carries under its load cases, beside the ratings that FILE gives.

    Exit status: 0 every rated joint is within, or none is rated; 1 a rating is exceeded; 3 a rated joint's force is
    open.
    """
    from assembly.api.loading import load
    from assembly.record import LoadRangeRecord
    from assembly.report.text.load_range_text import load_range_blocks
    from assembly.report.text.loads_text import loads_blocks

    held = common.once_each(settings)
    machine = load(file)
    from assembly.api import questions

    record = questions.loads(machine, held, cases=cases, worst=worst, cores=cores)
    if isinstance(record, LoadRangeRecord):
        verdict = common.answer_in_short(record, load_range_blocks, everything=everything, as_json=as_json, files=0)
    else:
        verdict = common.answer_in_short(record, loads_blocks, everything=everything, as_json=as_json, files=0)
    common.show(verdict)
    return STATUS[record.verdict]
