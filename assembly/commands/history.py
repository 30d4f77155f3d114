"""``swingroom history``."""

from __future__ import annotations

from pathlib import Path

import click

from assembly.commands import common
from assembly.errors import Fault, InputError


@click.command(name="history")
@click.argument("file", type=click.Path(path_type=Path), required=False)
@click.option("--run", type=click.IntRange(min=1), help="The whole report of this run.")
@click.option("--pair", nargs=2, metavar="PART PART", help="One pair in every run of FILE.")
@common.HISTORY
@common.JSON
def history_(
    file: Path | None, run: int | None, pair: tuple[str, str] | None, history: Path | None, as_json: bool
) -> common.ExitStatus:
    """List the kept runs of FILE (without FILE, of every machine); or show one run, or one pair over time."""
    if run is not None and pair:
        raise InputError(Fault("--run and --pair are asked for at once", hint="give one of them"))
    from assembly.api.kept_runs import history_place, machine_key

    path = history_place(history)
    if run is not None:
        _show_run(path, run, as_json=as_json)
    elif pair:
        if file is None:
            raise InputError(Fault("--pair needs a FILE", hint="swingroom history FILE --pair PART PART"))
        _show_pair(path, machine_key(file), pair, as_json=as_json)
    else:
        _show_runs(path, file, as_json=as_json)
    return common.ExitStatus.CLEAR


def _show_runs(path: Path, file: Path | None, *, as_json: bool) -> None:
    from assembly.api.kept_runs import existing, machine_key
    from assembly.report.text.history_text import runs_blocks

    with existing(path, common.note) as history:
        runs = history.runs(None if file is None else machine_key(file))
    whose = "every machine" if file is None else str(file)
    common.answer(runs, lambda these: runs_blocks(these, whose, str(path)), as_json=as_json)


def _show_run(path: Path, number: int, *, as_json: bool) -> None:
    from assembly.api.kept_runs import existing
    from assembly.report.text.sweep_text import sweep_blocks

    with existing(path, common.note) as history:
        record = history.record(number)
    common.answer(record, sweep_blocks, as_json=as_json)


def _show_pair(path: Path, key: str, pair: tuple[str, str], *, as_json: bool) -> None:
    from assembly.api.kept_runs import existing
    from assembly.report.text.history_text import pair_blocks

    with existing(path, common.note) as history:
        points = history.pair_over_time(key, *pair)
        drives = history.record(points[0].number).drives
    common.answer(points, lambda these: pair_blocks(these, pair, drives), as_json=as_json)
