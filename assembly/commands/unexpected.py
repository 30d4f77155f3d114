"""What nobody foresaw, told in one line: never as a verdict about the machine."""

from __future__ import annotations

import errno
import traceback
from pathlib import Path

from assembly.commands.common import ExitStatus

TRACEBACK = "SWINGROOM_TRACEBACK"
"""Names the environment variable that has the whole traceback shown, for whoever looks for the cause."""
REPORT = f"report it with this line and the files that it is about (README, When the program breaks off); {TRACEBACK}=1"
WRONG_PLACE = {errno.ENAMETOOLONG, errno.ELOOP, errno.ENOENT, errno.ENOTDIR, errno.EISDIR, errno.EACCES, errno.EPERM}
"""What the system says of a file or folder that was named wrongly; anything else is trouble of the machine's own."""
_PACKAGE = Path(__file__).resolve().parent.parent


def unexpected(error: Exception) -> tuple[ExitStatus, str]:
    """The exit status and the line of an error that is no SwingroomError."""
    if isinstance(error, MemoryError):
        return ExitStatus.BROKEN, "there is not enough memory for this; nothing is said about the machine"
    if isinstance(error, OSError):
        if not _has_working_folder():
            return (
                ExitStatus.INPUT,
                "the folder that this was started in is gone; change to another and try again",
            )
        if error.strerror:
            status = ExitStatus.INPUT if error.errno in WRONG_PLACE else ExitStatus.BROKEN
            where = f"{error.filename}: " if error.filename else ""
            return status, f"{where}{error.strerror}; nothing is said about the machine"
    what = f"{type(error).__name__}: {error}".rstrip(": ")
    line = f"the program itself broke off and says nothing about the machine: {what} ({_place(error)}, {_version()})"
    return ExitStatus.BROKEN, f"{line}; {REPORT} shows more"


def _has_working_folder() -> bool:
    try:
        Path.cwd()
    except OSError:
        return False
    return True


def _place(error: Exception) -> str:
    """The last line of this package that was at work."""
    for frame in reversed(traceback.extract_tb(error.__traceback__)):
        path = Path(frame.filename)
        if path.is_relative_to(_PACKAGE):
            return f"{path.relative_to(_PACKAGE.parent).as_posix()} line {frame.lineno}"
    return "no line of its own"


def _version() -> str:
    from importlib.metadata import PackageNotFoundError, version  # takes 40 ms, which every command would pay

    try:
        return f"version {version('swingroom')}"
    except PackageNotFoundError:
        return "not installed"
