"""What a run leaves on disk, and the lines that say where."""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from assembly.report.text.layout import Block, Line, Tone


@dataclass(frozen=True, slots=True)
class Files:
    """What was written where, None if it was not; ``picture_note``: why there is no picture."""

    record: Path | None = None
    picture: Path | None = None
    picture_note: str = ""
    page: Path | None = None


def command_line(name: str, file: Path) -> str:
    """What to type for a command on ``file``."""
    return f"swingroom {name} {shlex.quote(str(file))}"


def file_lines(files: Files) -> Iterator[Block]:
    """Where record, picture and page lie."""
    if files.record is not None:
        yield Line(f"record:  {files.record}")
    if files.picture is not None:
        yield Line(f"picture: {files.picture}")
    if files.page is not None:
        yield Line(f"page:    {files.page}")
    if files.picture_note:
        yield Line(f"picture: {files.picture_note}", Tone.QUIET)
