"""What SQLite reports, in plain words."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from assembly.database import BUSY, DAMAGED, SHUT, code_of
from assembly.errors import Fault, InputError, OutputError, SwingroomError

INTACT = "the runs that it holds are intact"
ELSEWHERE = "name another file with --history"


@contextmanager
def told(path: Path, doing: str) -> Iterator[None]:
    """Errors of SQLite become Swingroom's: ``doing`` is ``read`` or ``write to``."""
    try:
        yield
    except sqlite3.Error as error:
        raise plain_error(error, path, doing) from error


def plain_error(error: sqlite3.Error, path: Path, doing: str) -> SwingroomError:
    """An OutputError if writing failed, else an InputError."""
    kind = InputError if doing == "read" else OutputError
    return kind(_fault(code_of(error), str(error), f"cannot {doing} the history {path}"))


def _fault(code: int, said: str, head: str) -> Fault:
    if code == sqlite3.SQLITE_FULL:
        return Fault(f"{head}: the disk is full; {INTACT}", hint=f"make room there, or {ELSEWHERE}")
    if code in BUSY:
        return Fault(f"{head}: another program is writing to it and does not come to an end", hint="try again later")
    if code in SHUT:
        return Fault(f"{head}: the file or its folder may not be written", hint=ELSEWHERE)
    if code in DAMAGED:
        return Fault(f"{head}: it is damaged", hint="the next run that is saved sets it aside and begins a new one")
    return Fault(f"{head}: {said}; {INTACT}", hint=f"look at the disk, or {ELSEWHERE}")
