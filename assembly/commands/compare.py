"""``swingroom compare``."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from assembly.arguments import NotNegative, Positive
from assembly.commands.common import CORES, JSON, ExitStatus, say, show
from assembly.commands.keeping import HISTORY, existing, history_place, machine_key
from assembly.errors import Fault, InputError

if TYPE_CHECKING:
    from assembly import Machine
    from assembly.record import Record

RECORD_SUFFIX = ".json"
MOST_DIGITS = 30


@dataclass(frozen=True, slots=True)
class _Run:
    """A record, how it is called, and, where it is known, by what its machine goes and its number in the history."""

    record: Record
    told: str
    key: str = ""
    number: int | None = None


@click.command()
@click.argument("runs", nargs=-1, required=True, metavar="[BEFORE] NOW")
@click.option(
    "--shrank", type=NotNegative(), default=0.5, show_default=True, help="mm that a clearance may lose without alarm."
)
@click.option("--budget", type=Positive(), help="Stop a sweep after this many seconds.")
@CORES
@HISTORY
@JSON
def compare(
    runs: tuple[str, ...], shrank: float, budget: float | None, cores: int, history: Path | None, as_json: bool
) -> ExitStatus:
    """Tell what got worse or better from BEFORE to NOW, and what was edited.

    Each is the number of a kept run, a record.json, or a mechanism file, which is swept now. Without BEFORE it is the
    last kept run of the same machine that was clear. Exit status 1: something fails that did not, or a clearance shrank
    by more than --shrank.
    """
    from assembly.history import compare as compared
    from assembly.record import json_text
    from assembly.report.text.compare_text import compare_blocks

    if len(runs) > 2:
        raise InputError(Fault(f"{len(runs)} runs are given", hint="give two, or one against the last good run"))
    place = history_place(history)
    if len(runs) == 1:
        before, now = _against_last_good(runs[0], place, budget, cores)
    else:
        before, now = [_run(word, place, budget, cores) for word in runs]
    found = compared(before.record, now.record, shrank_mm=shrank, told=(before.told, now.told))
    if as_json:
        say(json_text(found))
    else:
        show(compare_blocks(found))
    if found.worse:
        return ExitStatus.FAILS
    return ExitStatus.UNDECIDED if found.opened else ExitStatus.CLEAR


def _against_last_good(word: str, place: Path, budget: float | None, cores: int) -> tuple[_Run, _Run]:
    """The last kept run before ``word`` of the same machine that was clear, and ``word`` itself."""
    from assembly.api.questions import load as load_machine

    if word.endswith(RECORD_SUFFIX):
        hint = "give both runs: swingroom compare BEFORE.json NOW.json"
        raise InputError(Fault(f"{word} does not say which machine's last good run is meant", hint=hint))
    if (number := _number(word)) is not None:
        now = _kept(number, place)
        return _kept(_last_good(now.key, place, now.number), place), now
    machine = load_machine(Path(word))
    before = _kept(_last_good(machine_key(Path(word)), place), place)
    return before, _swept(machine, word, budget, cores)


def _last_good(key: str, place: Path, before: int | None = None) -> int:
    with existing(place) as history:
        number = history.last(key, good=True, before=before)
    if number is None:
        hint = "`swingroom history` lists the runs; name one: swingroom compare RUN FILE"
        earlier = "" if before is None else f" before run {before}"
        raise InputError(Fault(f"no kept run of {key}{earlier} was clear", hint=hint))
    return number


def _run(word: str, place: Path, budget: float | None, cores: int) -> _Run:
    from assembly.api.questions import load as load_machine
    from assembly.record import load

    if (number := _number(word)) is not None:
        return _kept(number, place)
    if word.endswith(RECORD_SUFFIX):
        return _Run(load(Path(word)), word)
    return _swept(load_machine(Path(word)), word, budget, cores)


def _number(word: str) -> int | None:
    """The number of a run, None where the word is a file; no run has as many digits as are read of it."""
    return int(word[:MOST_DIGITS]) if word.isascii() and word.isdigit() else None


def _kept(number: int, place: Path) -> _Run:
    with existing(place) as history:
        return _Run(history.record(number), f"run {number}", history.entry(number).key, number)


def _swept(machine: Machine, file: str, budget: float | None, cores: int) -> _Run:
    from assembly.api.main_check import Effort
    from assembly.commands.sweep_progress import sweep_aloud

    return _Run(sweep_aloud(machine, Effort(budget_s=budget, cores=cores)).record, f"{file} as it is")
