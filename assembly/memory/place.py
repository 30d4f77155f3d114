"""Where the memory lies when nobody says so."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

NAMED_BY = "SWINGROOM_MEMORY"
FOLDER, FILE = "swingroom", "pairs.sqlite3"


OFF = "off"


def default_place(environment: Mapping[str, str], platform: str, home: Path) -> Path | None:
    """The file named by ``SWINGROOM_MEMORY``, else one in the user's folder for what can be made again; None if off.

    ``platform`` is named as in ``sys.platform``. The folder is the one for caches of the XDG Base Directory
    Specification, ``Library/Caches`` on macOS and ``LOCALAPPDATA`` on Windows. An XDG folder that is not absolute is
    to be ignored, says the specification.
    """
    named = environment.get(NAMED_BY)
    if named:
        return None if named.lower() == OFF else Path(named)
    return _folder(environment, platform, home) / FOLDER / FILE


def _folder(environment: Mapping[str, str], platform: str, home: Path) -> Path:
    if platform == "win32":
        return Path(environment.get("LOCALAPPDATA") or home / "AppData" / "Local")
    if platform == "darwin":
        return home / "Library" / "Caches"
    given = Path(environment.get("XDG_CACHE_HOME", ""))
    return given if given.is_absolute() else home / ".cache"
