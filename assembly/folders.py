"""The user's own folders, as each system has them: for what must be kept, and for what can be made again.

On Linux they are those of the XDG Base Directory Specification, which says that an XDG folder that is not absolute is
to be ignored; elsewhere common practice. ``platform`` is named as in ``sys.platform``.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

OURS = "swingroom"


def data_folder(environment: Mapping[str, str], platform: str, home: Path) -> Path:
    """Where data of the user that must be kept goes."""
    if platform == "darwin":
        return home / "Library" / "Application Support" / OURS
    return _folder(environment, platform, home, ("XDG_DATA_HOME", home / ".local" / "share"))


def cache_folder(environment: Mapping[str, str], platform: str, home: Path) -> Path:
    """Where what can be made again goes."""
    if platform == "darwin":
        return home / "Library" / "Caches" / OURS
    return _folder(environment, platform, home, ("XDG_CACHE_HOME", home / ".cache"))


def _folder(environment: Mapping[str, str], platform: str, home: Path, xdg: tuple[str, Path]) -> Path:
    if platform == "win32":
        return Path(environment.get("LOCALAPPDATA") or home / "AppData" / "Local") / OURS
    name, usual = xdg
    given = Path(environment.get(name, ""))
    return (given if given.is_absolute() else usual) / OURS
