"""One folder for each night, named by date and counter; a night that was cut short is closed by the next one."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import date
from itertools import count
from pathlib import Path

from assembly.errors import Fault, OutputError
from assembly.record import write_whole

REPORT = "report.txt"
"""Written last: a folder without it is a night that was cut short."""
DATED = re.compile(r"\d{4}-\d{2}-\d{2}_(\d+)")
CUT_SHORT = "This night was cut short. What lies here is whole, the rest of the machines was not checked.\n"


def new_folder(out: Path, today: date) -> Path:
    """Make the next folder of ``today`` in ``out``: never one that there is or was. Raises OutputError."""
    with _told(out):
        numbers = [int(match[1]) for path, match in _dated(out) if path.name.startswith(f"{today.isoformat()}_")]
        for number in count(max(numbers, default=0) + 1):
            folder = out / f"{today.isoformat()}_{number}"
            with suppress(FileExistsError):
                folder.mkdir()
                break
    return folder


def close_cut_short(out: Path) -> list[Path]:
    """Give every night that was cut short a report that says so, and clear away what it was just writing.

    Gives their folders. Nobody else may be at work in ``out``. Raises OutputError.
    """
    with _told(out):
        closed = [path for path, _ in _dated(out) if not (path / REPORT).exists()]
        for folder in closed:
            for part in folder.rglob(".*.part"):
                part.unlink(missing_ok=True)
            write_whole(folder / REPORT, CUT_SHORT)
    return closed


@contextmanager
def _told(out: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        told = f"cannot write to {out}: {error.strerror or error}"
        raise OutputError(Fault(told, hint="name a folder that can be written to")) from error


def _dated(out: Path) -> Iterator[tuple[Path, re.Match[str]]]:
    """Folders of nights by date and counter."""
    for path in sorted(out.iterdir()):
        match = DATED.fullmatch(path.name)
        if match and path.is_dir():
            yield path, match
