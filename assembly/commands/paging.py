"""What the commands share about the page: what changed since the run that was kept last, and whose page it is."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from assembly.commands.common import command_line
from assembly.commands.keeping import existing, git_commit, history_place, machine_key
from assembly.errors import SwingroomError

if TYPE_CHECKING:
    from assembly.api.page_content import Change, PageWish
    from assembly.record import Record

PAGE = "page.html"
SHRANK_MM = 0.5
NO_RUN = "No earlier run of this machine was kept: sweep with --keep, and the next page tells what changed."

RANGE = click.option("--no-range", is_flag=True, help="Do not look how far the drives could go beyond their range.")


def page_wish(file: Path, cores: int, *, pictures: bool = True, usable: bool = True) -> PageWish:
    """The page of ``file``, with what to type to sweep it again and the commit that is checked out round it."""
    from assembly.api.page_content import PageWish

    return PageWish(command_line("sweep", file), cores, git_commit(file.resolve().parent) or "", pictures, usable)


def change_since(record: Record, given: Path | None, before: int | None) -> Change:
    """What is not as it was in the kept run ``before``, or why that is not known."""
    from assembly.history import compare

    if before is None:
        return None, NO_RUN
    try:
        with existing(history_place(given)) as history:
            words = f"run {before}", "this run"
            return compare(history.record(before), record, shrank_mm=SHRANK_MM, told=words), ""
    except SwingroomError as error:
        return None, f"The last kept run could not be read: {'; '.join(fault.message for fault in error.faults)}."


def last_kept(file: Path, given: Path | None) -> int | None:
    """The number of the last kept run of ``file``; None if there is none. No history is begun."""
    place = history_place(given)
    if not place.exists():
        return None
    with existing(place) as history:
        return history.last(machine_key(file))
