"""What the commands share about the history: where it lies, by what a machine goes in it, and keeping a run."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from assembly.commands.common import say
from assembly.errors import Fault, InputError

if TYPE_CHECKING:
    from assembly.api.main_check import SweepResult
    from assembly.history import History

GIT_WAIT_S = 5.0

HISTORY = click.option(
    "--history",
    type=click.Path(path_type=Path),
    help="The history file.  [default: $SWINGROOM_HISTORY, else in your data folder]",
)


def history_place(given: Path | None) -> Path:
    """The file that the option names, else the usual one."""
    from assembly.history import default_place

    return given or default_place(os.environ)


def machine_key(file: Path) -> str:
    """By what the machine of a mechanism file goes in the history."""
    return os.fsencode(file.resolve()).decode(errors="backslashreplace")


@contextmanager
def opened(path: Path) -> Iterator[History]:
    """The history at ``path``; on stderr, what was done to it."""
    from assembly.history import open_history

    with open_history(path) as history:
        for note in history.notes:
            say(f"{note}\n", sys.stderr)
        yield history


@contextmanager
def existing(path: Path) -> Iterator[History]:
    """A history that is to be read. Raises InputError if there is none; none is begun."""
    if not path.exists():
        hint = "`swingroom sweep FILE --keep` begins one, or name another with --history"
        raise InputError(Fault(f"there is no history at {path} yet", hint=hint))
    with opened(path) as history:
        yield history


def place_to_keep(given: Path | None, *, asked: bool) -> Path | None:
    """Where a run is to be kept, None where nobody asked for it; tried before anything long is computed.

    Raises OutputError or InputError.
    """
    if given is None and not asked:
        return None
    path = history_place(given)
    with opened(path) as history:
        history.check_writable()
    return path


def keep(swept: SweepResult, file: Path, path: Path) -> str:
    """Save a run of the mechanism file; a line that says its number. Raises OutputError."""
    with opened(path) as history:
        commit = git_commit(file.resolve().parent)
        number = history.save(swept.record, seconds=swept.seconds, commit=commit, key=machine_key(file))
    return f"kept as run {number} in {path}\n"


def git_commit(folder: Path) -> str | None:
    """The commit that is checked out round ``folder``; None where there is no git or it does not answer."""
    command = ["git", "-C", str(folder), "rev-parse", "--verify", "HEAD"]
    try:
        # Our own words and a folder, no shell.
        run = subprocess.run(command, capture_output=True, text=True, timeout=GIT_WAIT_S, check=False)  # noqa: S603
    except (OSError, subprocess.TimeoutExpired):
        return None
    return run.stdout.strip() or None if run.returncode == 0 else None
