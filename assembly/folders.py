"""The user's own folders, as each system has them: for what must be kept, and for what can be made again.

The only door to platformdirs, which follows the XDG Base Directory Specification on Linux.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from platformdirs import PlatformDirs

from assembly.errors import Fault, InputError

_OURS = PlatformDirs("swingroom", appauthor=False)


def data_folder(instead: str) -> Path:
    """Where data of the user that must be kept goes. Nothing is made there.

    Raises InputError, with the hint ``instead``, for a user without a home folder.
    """
    path = _whole(lambda: _OURS.user_data_path)
    if path is None:
        raise InputError(Fault("this user has no home folder to keep anything in", hint=instead))
    return path


def cache_folder() -> Path | None:
    """Where what can be made again goes; None for a user without a home folder."""
    return _whole(lambda: _OURS.user_cache_path)


def _whole(find: Callable[[], Path]) -> Path | None:
    """The folder by its whole path. Without a home platformdirs raises; older releases leave a tilde in the path."""
    try:
        path = find()
    except RuntimeError:
        return None
    return path if path.is_absolute() else None
