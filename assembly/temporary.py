"""Temporary folders and unfinished files: gone however a run ends, at the latest when the next one begins.

Each is locked as long as whoever made it lives. The system gives a lock back when its process ends, in whatever way: so
what another process can lock was left behind, and is cleared away.
"""

from __future__ import annotations

import os
import re
import secrets
import shutil
import stat
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

PREFIX, LOCK = "swingroom-", "in-use.lock"
FOLDER = re.compile(rf"{PREFIX}[a-z0-9_]{{8}}")
UNFINISHED = re.compile(r"\..+-\d+-[0-9a-f]{8}\.part")
LONGEST = 40
"""Letters of a file's name in the name of its unfinished self, which has to be a name of the system's length too."""
UNLOCKED_S = 3600.0
"""A folder that was just made has no lock yet; an empty one that is older was left behind."""


@contextmanager
def temporary_folder() -> Iterator[Path]:
    """A folder of this run alone, which goes with the block; what runs that were killed left goes first."""
    _clear_folders(Path(tempfile.gettempdir()))
    folder, lock = _locked_folder()
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        os.close(lock)


def _locked_folder() -> tuple[Path, int]:
    """A new folder and its lock. Another run may clear it before it is locked: then the next one is made."""
    while True:
        folder = Path(tempfile.mkdtemp(prefix=PREFIX))
        with suppress(FileNotFoundError):
            lock = os.open(folder / LOCK, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600)
            if _take(lock) and _is_at(lock, folder / LOCK):
                return folder, lock
            os.close(lock)


@contextmanager
def unfinished_file(path: Path) -> Iterator[BinaryIO]:
    """A file beside ``path`` that takes its place, whole and lastingly, if the block ends well; else it goes."""
    part = beside(path)
    try:
        with part.open("xb") as file:
            _take(file.fileno())
            yield file
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def beside(path: Path) -> Path:
    """A new name beside ``path`` for a file that is not to last."""
    return path.with_name(f".{path.name[:LONGEST]}-{os.getpid()}-{secrets.token_hex(4)}.part")


def clear_unfinished(folder: Path) -> None:
    """Clear away unfinished files in ``folder`` that nobody writes any more."""
    for path in _own(folder, UNFINISHED, stat.S_ISREG):
        with suppress(OSError), _taken(path):
            path.unlink()


def _clear_folders(place: Path) -> None:
    """Clear away our folders in ``place`` of which nobody holds the lock; one without a lock only if it is empty."""
    for folder in _own(place, FOLDER, stat.S_ISDIR):
        with suppress(OSError):
            if (folder / LOCK).exists():
                with _taken(folder / LOCK):
                    shutil.rmtree(folder, ignore_errors=True)
            elif time.time() - folder.lstat().st_mtime > UNLOCKED_S:
                folder.rmdir()


def _own(place: Path, name: re.Pattern[str], is_kind: Callable[[int], bool]) -> Iterator[Path]:
    """What this user made in ``place`` under such a name; no links. Nothing where locks or owners are not known."""
    if sys.platform == "win32":
        return
    with suppress(OSError):
        for path in sorted(place.iterdir()):
            if name.fullmatch(path.name):
                with suppress(OSError):
                    found = path.lstat()
                    if is_kind(found.st_mode) and found.st_uid == os.getuid():
                        yield path


@contextmanager
def _taken(path: Path) -> Iterator[None]:
    """Hold the lock of a file. OSError where somebody else does, or it is a link."""
    handle = os.open(path, os.O_RDWR | getattr(os, "O_NOFOLLOW", 0))
    try:
        if not _take(handle):
            raise BlockingIOError
        yield
    finally:
        os.close(handle)


def _take(handle: int) -> bool:
    """Lock an open file if nobody else does; where there are no such locks nothing is ever cleared either."""
    if sys.platform != "win32":
        import fcntl

        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        except OSError:
            return True
    return True


def _is_at(handle: int, path: Path) -> bool:
    """Whether an open file is still the one at ``path``. FileNotFoundError if there is none."""
    return os.path.samestat(os.fstat(handle), path.stat())
