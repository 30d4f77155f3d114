"""What the commands share about the page."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from assembly.commands.common import note

if TYPE_CHECKING:
    from assembly.api.main_check import SweepResult

PAGE = "page.html"
RANGE = click.option("--no-range", is_flag=True, help="Do not look how far the drives could go beyond their range.")


def write_page_of(
    swept: SweepResult,
    file: Path,
    path: Path,
    earlier: tuple[Path | None, int | None],
    *,
    pictures: bool = True,
    usable: bool = True,
) -> Path:
    """Write the page of a sweep of ``file``, with its progress on stderr; its path.

    ``earlier``: the history that was named, and the number of the run in it that the page compares with.
    """
    from assembly.api.kept_runs import change_since
    from assembly.api.page_content import page_wish, write_page
    from assembly.report.text.terminal import progress

    with progress(sys.stderr) as told:
        change = change_since(swept.record, *earlier, note)
        wish = page_wish(file, swept.record.work.cores, pictures=pictures, usable=usable)
        write_page(swept, wish, change, told, path)
    return path
