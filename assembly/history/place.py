"""Where the history lies when nobody says so."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

NAMED_BY = "SWINGROOM_HISTORY"
FOLDER, FILE = "swingroom", "history.sqlite3"


def default_place(environment: Mapping[str, str], platform: str, home: Path) -> Path:
    """The file named by ``SWINGROOM_HISTORY``, else one in the user's data folder.

    ``platform`` is named as in ``sys.platform``. The folder is the one of the XDG Base Directory Specification,
    ``Library/Application Support`` on macOS and ``LOCALAPPDATA`` on Windows. An XDG folder that is not absolute is to
    be ignored, says the specification.
    """
    named = environment.get(NAMED_BY)
    if named:
        return Path(named)
    return _data_folder(environment, platform, home) / FOLDER / FILE


def _data_folder(environment: Mapping[str, str], platform: str, home: Path) -> Path:
    if platform == "win32":
        return Path(environment.get("LOCALAPPDATA") or home / "AppData" / "Local")
    if platform == "darwin":
        return home / "Library" / "Application Support"
    given = Path(environment.get("XDG_DATA_HOME", ""))
    return given if given.is_absolute() else home / ".local" / "share"
