"""The history as the nightly uses it: each machine against its own last run."""

from __future__ import annotations

from pathlib import Path

from assembly.api.kept_runs import compared_with, keep, machine_key
from assembly.api.main_check import SweepResult
from assembly.history import History
from assembly.record import Record
from assembly.report.text.change_words import change_words
from assembly.report.text.compare_text import compare_blocks
from assembly.report.text.night_text import NightChange

FIRST = NightChange("first run", worse=False, blocks=())


class Past:
    """Runs of each mechanism file; ``writable`` is false where new ones cannot be kept."""

    def __init__(self, history: History, shrank_mm: float, *, writable: bool) -> None:
        self.history, self.shrank_mm, self.writable = history, shrank_mm, writable

    def keep(self, path: Path, swept: SweepResult) -> None:
        """Put the run into the history. Raises OutputError."""
        if self.writable:
            keep(swept, path, self.history)

    def last(self, path: Path) -> int | None:
        """The number of the last run, None before the first. Runs go by number: clocks may be set back."""
        return self.history.last(machine_key(path))

    def change(self, before: int | None, record: Record) -> NightChange:
        """What is not as it was in run ``before``. Raises InputError if that is damaged."""
        if before is None:
            return FIRST
        found = compared_with(self.history, before, record, self.shrank_mm)
        return NightChange(change_words(found), found.worse, tuple(compare_blocks(found)), found)

    def records(self, path: Path, most: int) -> list[Record]:
        """Records of the last runs, oldest first."""
        runs = self.history.runs(machine_key(path))[:most]
        return [self.history.record(run.number) for run in reversed(runs)]
