"""What a run leaves on disk, and the picture that is drawn last."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from assembly.geometry.scene import Scene
from assembly.report.blocks import Block, Line, Tone


@dataclass(frozen=True, slots=True)
class Files:
    """What was written where, None where it was not; ``picture_note``: why there is no picture, or no better one."""

    record: Path | None = None
    picture: Path | None = None
    picture_note: str = ""
    page: Path | None = None


def with_picture(files: Files, scene: Callable[[], Scene], path: Path) -> Files:
    """``files`` with the picture of ``scene``, or with the reason why there is none: it never costs a result."""
    from assembly.report.pictures import draw

    try:
        drawn = draw(scene(), path)
    except Exception as error:  # numbers and exit status never depend on a picture
        return replace(files, picture_note=f"none was drawn: {' '.join(str(error).split()) or type(error).__name__}")
    return replace(files, picture=drawn.path, picture_note=drawn.note)


def file_lines(files: Files) -> Iterator[Block]:
    """Where record, picture and page lie."""
    if files.record is not None:
        yield Line(f"record:  {files.record}")
    if files.picture is not None:
        yield Line(f"picture: {files.picture}")
    if files.page is not None:
        yield Line(f"page:    {files.page}")
    if files.picture_note:
        yield Line(f"picture: {files.picture_note}" if files.picture is None else files.picture_note, Tone.QUIET)
