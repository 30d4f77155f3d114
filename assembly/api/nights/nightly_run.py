"""A nightly run: every file in its turn, and what is written when all are done.

Two runs never work in one folder at once; a killed one leaves nothing locked.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from assembly.api.nights.dated import REPORT, close_cut_short, new_folder
from assembly.api.nights.finding import MechanismFiles, some_mechanisms
from assembly.api.nights.one_file import NightWish, check_file, worst
from assembly.api.nights.past import Past
from assembly.clearance.proof.sweep import STOPPED_BY_HAND
from assembly.errors import CutShortError, Fault, OutputError, SwingroomError
from assembly.history import History, open_history
from assembly.progress import Progress
from assembly.record import prepare_folder, write_whole
from assembly.report.export.junit import CheckedFile, junit_text
from assembly.report.text.layout import Block, Line, Tone
from assembly.report.text.night_text import NightEntry, NightNotes, NightStanding, file_line, night_blocks
from assembly.report.text.terminal import plain_text
from assembly.report.text.words import count

LOCK = ".nightly.lock"


@contextmanager
def alone_in(folder: Path) -> Iterator[None]:
    """Keep every other nightly out of ``folder``. Raises CutShortError if one is at work there, OutputError.

    The system itself holds the lock for as long as this process lives; the file stays behind and means nothing.
    """
    from filelock import FileLock, Timeout

    lock = FileLock(folder / LOCK)
    try:
        lock.acquire(blocking=False)
    except Timeout as error:
        hint = "let it end, or name another --out"
        raise CutShortError(Fault(f"another nightly is at work in {folder}; nothing was checked", hint=hint)) from error
    except OSError as error:
        told = f"cannot write to {folder}: {error.strerror or error}"
        raise OutputError(Fault(told, hint="name a folder that can be written to")) from error
    try:
        yield
    finally:
        lock.release()


JUNIT = "junit.xml"
Tell = Callable[[Iterable[Block]], None]
"""Shows blocks as soon as they are known."""


@dataclass(frozen=True, slots=True)
class NightPaths:
    """What is checked, where the night's folder goes, where the history lies, and where else CI cases are wanted."""

    folders: tuple[Path, ...]
    """Folders with mechanism files in and below them, or files."""
    out: Path
    history: Path
    junit: Path | None


@dataclass(slots=True)
class Night:
    """What came of it; ``faults`` are those of the night itself, not of one file."""

    folder: Path
    entries: list[NightEntry] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    told: list[Block] = field(default_factory=list)
    left: int = 0

    @property
    def standing(self) -> NightStanding:
        """The worst of all; a night that was stopped by hand has something undecided."""
        own: NightStanding = "input" if self.faults else "undecided" if self.left else "clear"
        return worst(own, *(entry.standing for entry in self.entries))


def run_night(places: NightPaths, wish: NightWish, tell: Tell, progress: Progress) -> Night:
    """Check every mechanism file; what there is to say goes to ``tell`` as soon as it is known.

    Raises InputError if there is no file, CutShortError if another nightly is at work in the same folder,
    OutputError if it cannot be written.
    """
    found = some_mechanisms(places.folders)
    prepare_folder(places.out)
    with alone_in(places.out):
        cut_short = close_cut_short(places.out)
        night = Night(new_folder(places.out, datetime.now().astimezone().date()))

        def say(blocks: Iterable[Block]) -> None:
            made = tuple(blocks)
            night.told.extend(made)
            tell(made)

        say(_opening(found, night.folder))
        with _past(places.history, wish.shrank_mm, night, say) as past:
            _check_all(found, wish, past, night, say, progress)
        notes = NightNotes(found.others, tuple(cut_short), night.folder, night.left)
        say(night_blocks(night.entries, notes))
        _write(night, places, say)
    return night


def _opening(found: MechanismFiles, folder: Path) -> Iterator[Block]:
    now = datetime.now().astimezone().isoformat(" ", timespec="minutes")
    yield Line(f"Nightly of {count(len(found.files), 'mechanism file')}, {now}, into {folder}", Tone.QUIET)
    yield Line("")


@contextmanager
def _past(place: Path, shrank_mm: float, night: Night, say: Tell) -> Iterator[Past | None]:
    """The history, or None if it cannot be used: the machines are checked all the same."""
    try:
        history = open_history(place)
    except SwingroomError as error:
        night.faults += map(str, error.faults)
        say(Line(f"nothing is compared: {fault}", Tone.BAD, whole=True) for fault in error.faults)
        yield None
    else:
        with history:
            say(Line(note, Tone.OPEN) for note in history.notes)
            yield Past(history, shrank_mm, writable=_writable(history, night, say))


def _writable(history: History, night: Night, say: Tell) -> bool:
    """Told once: runs can still be compared, but this one is not kept."""
    try:
        history.check_writable()
    except SwingroomError as error:
        night.faults += map(str, error.faults)
        say(Line(f"compared, but not kept: {fault}", Tone.BAD, whole=True) for fault in error.faults)
        return False
    return True


def _check_all(
    found: MechanismFiles, wish: NightWish, past: Past | None, night: Night, say: Tell, progress: Progress
) -> None:
    """One line for each file as soon as it is checked; places that cannot be read come first."""
    for path, fault in found.faults:
        _enter(NightEntry(str(path), "input", None, None, (fault,), (), 0.0), night, say)
    for index, file in enumerate(found.files):
        try:
            entry = check_file(file, wish, past, night.folder / file.name, progress)
        except KeyboardInterrupt:
            night.left = len(found.files) - index
            return
        _enter(entry, night, say)
        if entry.record is not None and entry.record.work.stopped == STOPPED_BY_HAND:
            night.left = len(found.files) - index - 1
            return


def _enter(entry: NightEntry, night: Night, say: Tell) -> None:
    night.entries.append(entry)
    say([file_line(entry)])


def _write(night: Night, places: NightPaths, say: Tell) -> None:
    """What services and people read; the report comes last, for it says that the night is whole."""
    cases = [CheckedFile(entry.file, entry.record, entry.faults, entry.seconds) for entry in night.entries]
    cases += [CheckedFile("the night", None, tuple(night.faults), 0.0)] if night.faults else []
    targets = [night.folder / JUNIT, *([places.junit] if places.junit else [])]
    for path, content in [*((path, junit_text(cases)) for path in targets), (night.folder / REPORT, "")]:
        try:
            write_whole(path, content or plain_text(night.told))
        except SwingroomError as error:
            night.faults += map(str, error.faults)
            say(Line(str(fault), Tone.BAD, whole=True) for fault in error.faults)
