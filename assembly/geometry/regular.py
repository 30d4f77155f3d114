"""Bytes of files that somebody names: of regular files only, up to a stated size, opened and read once."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path

_KINDS = (
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISSOCK, "a socket"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
)


def regular_bytes(path: Path, most: int) -> bytes:
    """All bytes of the regular file at ``path``, of which there may be ``most``.

    Raises OSError with a reason in words for anything else, before a byte of it is read: a pipe or a device may
    never end, or wait for ever. ValueError where the path itself is impossible.
    """
    _require_regular(path, path.stat().st_mode)
    with os.fdopen(os.open(path, os.O_RDONLY | os.O_CLOEXEC | os.O_NONBLOCK), "rb") as file:
        found = os.fstat(file.fileno())
        _require_regular(path, found.st_mode)
        if found.st_size > most:
            raise OSError(errno.EFBIG, f"it has {found.st_size} bytes, more than the {most} that are read", str(path))
        data = file.read(found.st_size + 1)
    if len(data) != found.st_size:
        raise OSError(errno.EBUSY, "it is written to while it is read", str(path))
    return data


def _require_regular(path: Path, mode: int) -> None:
    if not stat.S_ISREG(mode):
        kind = next((name for holds, name in _KINDS if holds(mode)), "something else")
        number = errno.EISDIR if stat.S_ISDIR(mode) else errno.EINVAL
        raise OSError(number, f"it is {kind}, not a file", str(path))
