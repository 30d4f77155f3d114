"""Two nightlies never work in one folder at once; a killed one leaves nothing locked."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from assembly.errors import CutShortError, Fault, OutputError

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
