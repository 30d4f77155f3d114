"""Where the history lies when nobody says so."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from assembly.folders import data_folder

NAMED_BY = "SWINGROOM_HISTORY"
FILE = "history.sqlite3"


def history_path(environment: Mapping[str, str]) -> Path:
    """The file named by ``SWINGROOM_HISTORY``, else one in the user's data folder (``folders``)."""
    named = environment.get(NAMED_BY)
    return Path(named) if named else data_folder(f"name a file with --history or ${NAMED_BY}") / FILE
