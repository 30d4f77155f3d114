"""Where the memory lies when nobody says so."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from assembly.folders import cache_folder

NAMED_BY = "SWINGROOM_MEMORY"
FILE = "pairs.sqlite3"
OFF = "off"


def cache_path(environment: Mapping[str, str]) -> Path | None:
    """The file named by ``SWINGROOM_MEMORY``, else one in the user's cache folder (``folders``).

    None if off, or if the user has no home folder.
    """
    named = environment.get(NAMED_BY, "")
    if named.lower() == OFF:
        return None
    if named:
        return Path(named)
    folder = cache_folder()
    return None if folder is None else folder / FILE
