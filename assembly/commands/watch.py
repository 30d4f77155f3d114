"""``swingroom watch``."""

from __future__ import annotations

import time
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from assembly.arguments import NotNegative, Positive
from assembly.commands.common import BY_ERROR, BY_VERDICT, CORES, FILE, ExitStatus, command_line, say, show
from assembly.commands.sweep_progress import BRACKET, BY_HAND, sweep_aloud
from assembly.errors import Fault, InputError, SwingroomError

if TYPE_CHECKING:
    from assembly import Machine
    from assembly.api.main_check import Effort
    from assembly.record import Record

LOOKS_EVERY_S = 0.25
LOOKS_FOR_FOLDER = 12
"""A folder may be away for so many looks, as while a checkout puts another in its place."""

Stamp = tuple[int, int, int]
"""When a file was written, its size and its number on the disk; all 0 if there is none."""


@click.command()
@FILE
@click.option(
    "--shrank", type=NotNegative(), default=0.5, show_default=True, help="mm that a clearance may lose without alarm."
)
@BRACKET
@click.option("--budget", type=Positive(), help="Stop each sweep after this many seconds.")
@CORES
def watch(file: Path, shrank: float, bracket: float, budget: float | None, cores: int) -> ExitStatus:
    """Check FILE, and again whenever it or one of its mesh files is saved, until Ctrl-C.

    Each time it tells in a few lines what has changed since the start. The exit status is that of the last check.
    """
    from assembly.api.main_check import Effort

    watched = _Watched(file, Effort(bracket_mm=bracket, budget_s=budget, cores=cores), shrank)
    try:
        while True:
            watched.check()
            watched.wait()
    except KeyboardInterrupt:
        say("\n")
    return watched.status


@dataclass(slots=True)
class _Watched:
    """A mechanism file, the files that it names, and how it stood at the start."""

    file: Path
    effort: Effort
    shrank_mm: float
    seen: dict[Path, Stamp] = field(default_factory=dict)
    """The files, as they were just before they were read; of a broken machine also their folders."""
    digests: Mapping[str, str] = field(default_factory=dict)
    """Of what was checked last; empty where that was broken."""
    faults: tuple[str, ...] = ()
    """What is wrong, as it was reported since the last save; it is reported once for each save."""
    start: Record | None = None
    status: ExitStatus = ExitStatus.INTERRUPTED
    """Nothing is known yet."""

    def check(self) -> None:
        """Check what was saved and say what has changed; a file that is broken for now is reported and waited for."""
        try:
            machine = self._read()
            if machine.digests != self.digests:
                self._sweep(machine)
            else:
                self._tell_same()
            self.digests, self.faults = machine.digests, ()
        except SwingroomError as error:
            if self.file.is_dir():
                raise
            self.digests = {}
            self.status = BY_ERROR.get(type(error), ExitStatus.INPUT)
            self.seen |= _stamps({path.parent for path in self.seen})
            self._tell_broken(tuple(map(str, error.faults)))

    def wait(self) -> None:
        """Until something has changed and is not being written any more."""
        missed = 0
        while (now := _stamps(self.seen)) == self.seen or missed:
            missed = 0 if self._has_folder() else missed + 1
            if missed > LOOKS_FOR_FOLDER:
                hint = "nothing is watched any more"
                raise InputError(Fault(f"the folder of {self.file.name} is gone", file=str(self.file), hint=hint))
            time.sleep(LOOKS_EVERY_S)
        while True:
            time.sleep(LOOKS_EVERY_S)
            later = _stamps(self.seen)
            if later == now:
                break
            now = later
        self._tell_saved([path for path in self.seen if now[path] != self.seen[path] and not path.is_dir()])

    def _has_folder(self) -> bool:
        """Whether the file can come back: its folder is there, or the one that this was started in, at the least."""
        try:
            return self.file.absolute().parent.is_dir()
        except FileNotFoundError:
            return False

    def _read(self) -> Machine:
        """The machine; read twice where it names other files than before, so that all were seen before being read."""
        from assembly.api.questions import load

        files = [path for path in self.seen if not path.is_dir()] or [self.file]
        self.seen = _stamps(files)
        machine = load(self.file)
        named = [self.file, *(self.file.parent / name for name in machine.digests if name != self.file.name)]
        if set(named) != set(files):
            self.seen = _stamps(named)
            machine = load(self.file)
        return machine

    def _sweep(self, machine: Machine) -> None:
        from assembly.history import compare
        from assembly.report.text.watch_text import difference_blocks, start_blocks

        swept = sweep_aloud(machine, self.effort)
        if swept.record.work.stopped == BY_HAND:
            raise KeyboardInterrupt
        record, command = swept.record, command_line("sweep", self.file)
        self.status = BY_VERDICT[record.verdict]
        if self.start is None:
            self.start = record
            show(start_blocks(record, command))
        else:
            found = compare(self.start, record, shrank_mm=self.shrank_mm, told=("the start", "now"))
            show(difference_blocks(found, record, swept.seconds, command))

    def _tell_same(self) -> None:
        from assembly.report.text.watch_text import same_line

        show([same_line()])

    def _tell_broken(self, faults: tuple[str, ...]) -> None:
        from assembly.report.text.watch_text import broken_blocks

        if faults != self.faults:
            show(broken_blocks(faults))
        self.faults = faults

    def _tell_saved(self, paths: Sequence[Path]) -> None:
        from assembly.report.text.watch_text import saved_line

        if paths:
            self.faults = ()
            show([saved_line(f"{datetime.now():%H:%M:%S}", [path.name for path in paths])])


def _stamps(files: Iterable[Path]) -> dict[Path, Stamp]:
    return {path: _stamp(path) for path in files}


def _stamp(path: Path) -> Stamp:
    try:
        found = path.stat()
    except OSError:
        return 0, 0, 0
    return found.st_mtime_ns, found.st_size, found.st_ino
