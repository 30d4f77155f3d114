"""A mechanism file under watch: checked whenever it or a file that it names is saved, against how it was at first."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from assembly.api.loading import load
from assembly.api.main_check import SweepResult
from assembly.api.what_helps import help_for_first
from assembly.errors import Fault, InputError, SwingroomError, TimeLimitError
from assembly.history import compare
from assembly.model.machine import Machine
from assembly.progress import no_progress
from assembly.record import Comparison, HelpRecord, Record

LOOKS_EVERY_S = 0.25
LOOKS_FOR_FOLDER = 12
"""A folder may be away for so many looks, as while a checkout puts another in its place."""

Stamp = tuple[int, int, int]
"""When a file was written, its size and its number on the disk; all 0 if there is none."""


@dataclass(frozen=True, slots=True, eq=False)
class Checked:
    """What was saved was swept; ``since_start`` is None the first time. ``helps``: of the worst pair where it fails."""

    swept: SweepResult
    since_start: Comparison | None
    helps: HelpRecord | None = None


@dataclass(frozen=True, slots=True)
class Unchanged:
    """What was saved is the same to the letter as what was checked before."""


@dataclass(frozen=True, slots=True)
class Broken:
    """What was saved cannot be checked; ``again``: of the same save it was said before."""

    error: SwingroomError
    again: bool


@dataclass(frozen=True, slots=True)
class Saved:
    """Files that were saved, by their names."""

    names: tuple[str, ...]


Event = Checked | Unchanged | Broken | Saved


def watch_file(file: Path, sweep: Callable[[Machine], SweepResult], shrank_mm: float) -> Iterator[Event]:
    """What comes of ``file`` now and after every save, without end.

    A file that is broken for now is an event; InputError if it is a folder, or its folder goes. KeyboardInterrupt if
    a sweep is stopped by hand.
    """
    watched = _Watched(file, sweep, shrank_mm)
    while True:
        yield watched.check()
        if names := watched.wait():
            yield Saved(names)


@dataclass(slots=True)
class _Watched:
    """A mechanism file, the files that it names, and how it stood at the start."""

    file: Path
    sweep: Callable[[Machine], SweepResult]
    shrank_mm: float
    seen: dict[Path, Stamp] = field(default_factory=dict)
    """The files, as they were just before they were read; of a broken machine also their folders."""
    digests: Mapping[str, str] = field(default_factory=dict)
    """Of what was checked last; empty if that was broken."""
    faults: tuple[str, ...] = ()
    """What is wrong, as it was reported since the last save; it is reported once for each save."""
    start: Record | None = None

    def check(self) -> Event:
        """Check what was saved."""
        try:
            machine = self._read()
            found = self._swept(machine) if machine.digests != self.digests else Unchanged()
            self.digests, self.faults = machine.digests, ()
        except SwingroomError as error:
            if self.file.is_dir():
                raise
            self.digests = {}
            self.seen |= _stamps({path.parent for path in self.seen})
            before, self.faults = self.faults, tuple(map(str, error.faults))
            return Broken(error, self.faults == before)
        return found

    def wait(self) -> tuple[str, ...]:
        """Until something has changed and is not being written any more; the names of the files that were saved."""
        missed = 0
        while (now := _stamps(self.seen)) == self.seen:
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
        saved = tuple(path.name for path in self.seen if now[path] != self.seen[path] and not path.is_dir())
        if saved:
            self.faults = ()
        return saved

    def _has_folder(self) -> bool:
        """Whether the file can come back: its folder is there, or the one that this was started in, at the least."""
        try:
            return self.file.absolute().parent.is_dir()
        except FileNotFoundError:
            return False

    def _read(self) -> Machine:
        """The machine; read twice where it names other files than before, so that all were seen before being read."""
        files = [path for path in self.seen if not path.is_dir()] or [self.file]
        self.seen = _stamps(files)
        machine = load(self.file)
        named = [self.file, *(self.file.parent / name for name in machine.digests if name != self.file.name)]
        if set(named) != set(files):
            self.seen = _stamps(named)
            machine = load(self.file)
        return machine

    def _swept(self, machine: Machine) -> Checked:
        swept = self.sweep(machine)
        if swept.stopped_by_hand:
            raise KeyboardInterrupt
        helps = _helps(swept)
        if self.start is None:
            self.start = swept.record
            return Checked(swept, None, helps)
        told = "the start", "now"
        return Checked(swept, compare(self.start, swept.record, shrank_mm=self.shrank_mm, told=told), helps)


def _helps(swept: SweepResult) -> HelpRecord | None:
    """What would help the worst pair, if it fails."""
    if not swept.pairs or swept.pairs[0].verdict != "fails":
        return None
    with suppress(TimeLimitError):
        return help_for_first(swept, 1, no_progress)
    return None


def _stamps(files: Iterable[Path]) -> dict[Path, Stamp]:
    return {path: _stamp(path) for path in files}


def _stamp(path: Path) -> Stamp:
    try:
        found = path.stat()
    except OSError:
        return 0, 0, 0
    return found.st_mtime_ns, found.st_size, found.st_ino
