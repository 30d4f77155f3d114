"""Runs in the history: keeping one, reading what was kept, and what changed since; which commit a machine is of."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from assembly.errors import Fault, InputError, SwingroomError
from assembly.history import SHRANK_MM, History, compare, history_path, open_history
from assembly.record import Comparison, Record

if TYPE_CHECKING:
    from assembly.api.main_check import SweepResult

GIT_WAIT_S = 5.0
NO_RUN = "No earlier run of this machine was kept: sweep with --keep, and the next page tells what changed."

Note = Callable[[str], None]
"""Called with what is to be said of the history or the result cache, a sentence at a time."""
Since = tuple[Comparison | None, str]
"""The comparison with an earlier run, or None and why there is none."""


def history_place(given: Path | None) -> Path:
    """The file that was named, else the usual one."""
    return given or history_path(os.environ)


def machine_key(file: Path) -> str:
    """By what the machine of a mechanism file goes in the history."""
    return os.fsencode(file.resolve()).decode(errors="backslashreplace")


@contextmanager
def opened(path: Path, note: Note) -> Iterator[History]:
    """The history at ``path``; what was done to it goes to ``note``."""
    with open_history(path) as history:
        for done in history.notes:
            note(done)
        yield history


@contextmanager
def existing(path: Path, note: Note) -> Iterator[History]:
    """A history that is to be read. Raises InputError if there is none; none is begun."""
    if not path.exists():
        hint = "`swingroom sweep FILE --keep` begins one, or name another with --history"
        raise InputError(Fault(f"there is no history at {path} yet", hint=hint))
    with opened(path, note) as history:
        yield history


def place_to_keep(given: Path | None, note: Note, *, asked: bool) -> Path | None:
    """Where a run is to be kept, None if nobody asked for it; tried before anything long is computed.

    Raises OutputError or InputError.
    """
    if given is None and not asked:
        return None
    path = history_place(given)
    with opened(path, note) as history:
        history.check_writable()
    return path


def keep(swept: SweepResult, file: Path, history: History) -> int:
    """Save a run of the mechanism file; its number. Raises OutputError."""
    commit = git_commit(file.resolve().parent)
    return history.save(swept.record, seconds=swept.seconds, commit=commit, key=machine_key(file))


def last_kept(file: Path, given: Path | None, note: Note) -> int | None:
    """The number of the last kept run of ``file``; None if there is none. No history is begun."""
    place = history_place(given)
    if not place.exists():
        return None
    with existing(place, note) as history:
        return history.last(machine_key(file))


def change_since(record: Record, given: Path | None, before: int | None, note: Note) -> Since:
    """What is not as it was in the kept run ``before``, or why that is not known."""
    if before is None:
        return None, NO_RUN
    try:
        with existing(history_place(given), note) as history:
            return compared_with(history, before, record, SHRANK_MM), ""
    except SwingroomError as error:
        return None, f"The last kept run could not be read: {'; '.join(fault.message for fault in error.faults)}."


def compared_with(history: History, before: int, record: Record, shrank_mm: float) -> Comparison:
    """What is not as it was in the kept run ``before``. Raises InputError if that is damaged."""
    return compare(history.record(before), record, shrank_mm=shrank_mm, told=(f"run {before}", "this run"))


def git_commit(folder: Path) -> str | None:
    """The commit that is checked out round ``folder``; None if there is no git or it does not answer."""
    command = ["git", "-C", str(folder), "rev-parse", "--verify", "HEAD"]
    try:
        # Our own words and a folder, no shell.
        run = subprocess.run(command, capture_output=True, text=True, timeout=GIT_WAIT_S, check=False)  # noqa: S603
    except (OSError, subprocess.TimeoutExpired):
        return None
    return run.stdout.strip() or None if run.returncode == 0 else None
