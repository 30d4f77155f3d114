"""Where the history lies, and opening it: made if there is none, migrated if older, set aside if damaged."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Mapping
from pathlib import Path

from assembly.database import BESIDE, DAMAGED, MARK, SHUT, code_of, connected, number_of, write_ahead
from assembly.errors import Fault, InputError, OutputError
from assembly.folders import data_folder
from assembly.history.migrations import APPLICATION, STEPS, migrate, version_of
from assembly.history.runs import History
from assembly.history.sqlite_errors import ELSEWHERE, plain_error

NAMED_BY = "SWINGROOM_HISTORY"
FILE = "history.sqlite3"


def history_path(environment: Mapping[str, str]) -> Path:
    """The file named by ``SWINGROOM_HISTORY``, else one in the user's data folder (``folders``)."""
    named = environment.get(NAMED_BY)
    return Path(named) if named else data_folder(f"name a file with --history or ${NAMED_BY}") / FILE


WAIT_S = 30.0
"""How long to wait for another writer."""
SUFFIXES = frozenset((".sqlite3", ".sqlite", ".db"))


def open_history(path: Path) -> History:
    """The history at ``path``, a new one if there is none; a context manager.

    One that is damaged is renamed, with the files that belong to it, and a new one begun; ``notes`` then says so.
    One in a place that may not be written can still be read. Raises InputError if it is not a history, newer than
    this program or not to be read, OutputError if it cannot be written.
    """
    _prepare(path)
    notes: tuple[str, ...] = ()
    while True:
        try:
            return _opened(path, notes)
        except _SetAsideError as aside:
            notes = (*notes, str(aside))
        except sqlite3.DatabaseError as error:
            raise plain_error(error, path, "write to") from error


class _SetAsideError(Exception):
    """The history was damaged and is out of the way now; says where it is."""


def _prepare(path: Path) -> None:
    """The folder, and a look at what lies there. Raises OutputError or InputError."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        if path.is_dir():
            raise OutputError(Fault(f"cannot write the history {path}: a folder is in the way", hint=ELSEWHERE))
        mark = path.open("rb").read(len(MARK)) if path.exists() else b""
    except OSError as error:
        reason = error.strerror or str(error)
        raise OutputError(Fault(f"cannot write the history {path}: {reason}", hint=ELSEWHERE)) from error
    if mark and mark != MARK and path.suffix not in SUFFIXES:
        raise InputError(Fault(f"{path} is not a history", hint=f"{ELSEWHERE}, such as history.sqlite3"))


def _opened(path: Path, notes: tuple[str, ...]) -> History:
    try:
        connection = _ready_to_write(path)
    except sqlite3.OperationalError as error:
        if code_of(error) not in SHUT | {sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR} or not path.exists():
            raise
        connection = _ready_to_read(path, error)
        return History(path, connection, notes, refused=plain_error(error, path, "write to"))
    return History(path, connection, notes)


def _ready_to_write(path: Path) -> sqlite3.Connection:
    seen = path.stat().st_ino if path.exists() else None
    connection = connected(path, WAIT_S)
    try:
        _check(connection, path)
        write_ahead(connection, "FULL")
        connection.execute("PRAGMA foreign_keys = ON")
        migrate(connection)
        connection.execute("BEGIN IMMEDIATE")
        connection.execute("ROLLBACK")
    except sqlite3.DatabaseError as error:
        if code_of(error) in DAMAGED:
            raise _SetAsideError(_set_aside(path, seen, connection)) from error
        connection.close()
        raise
    except BaseException:
        connection.close()
        raise
    return connection


def _ready_to_read(path: Path, why: sqlite3.Error) -> sqlite3.Connection:
    """Without writing anything: as it is, or, where SQLite needs to write beside it, as a file that does not change.

    The latter would miss what still lies in the file beside it, so that it is not done where there is one.
    """
    beside = path.with_name(f"{path.name}-wal")
    unchanging = [] if beside.exists() and beside.stat().st_size else ["ro&immutable=1"]
    for mode in ("ro", *unchanging):
        connection = connected(path, WAIT_S, mode)
        try:
            _check(connection, path)
            if version_of(connection) == len(STEPS):
                return connection
        except sqlite3.OperationalError:
            connection.close()
        except BaseException:
            connection.close()
            raise
        else:
            connection.close()
    raise plain_error(why, path, "write to") from why


def _check(connection: sqlite3.Connection, path: Path) -> None:
    """Raises InputError on what is not ours or newer, sqlite3.DatabaseError on damage."""
    connection.execute("BEGIN")
    tables = int(connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0])
    application = number_of(connection, "application_id")
    version = version_of(connection)
    connection.execute("COMMIT")
    if application != APPLICATION and (application or tables):
        raise InputError(Fault(f"{path} is a database of another program", hint=ELSEWHERE))
    if version > len(STEPS):
        message = f"the history {path} was written by a newer version of this program (its format is {version}"
        hint = f"use that version, or {ELSEWHERE}; nothing was changed"
        raise InputError(Fault(f"{message}, this one knows up to {len(STEPS)})", hint=hint))
    (answer,) = connection.execute("PRAGMA quick_check(1)").fetchone()
    if answer != "ok":
        damage = sqlite3.DatabaseError(str(answer))
        damage.sqlite_errorcode = sqlite3.SQLITE_CORRUPT
        raise damage


def _set_aside(path: Path, seen: int | None, connection: sqlite3.Connection) -> str:
    """Rename a damaged history and what belongs to it, and say how; another process may have been quicker.

    They are renamed while they are open, where the system allows it: closing would remove what was written ahead.
    """
    if os.name != "posix":
        connection.close()
    number = 1
    while (aside := path.with_name(f"{path.stem}.damaged-{number}{path.suffix}")).exists():
        number += 1
    try:
        if not path.exists() or path.stat().st_ino != seen:
            return f"the history {path} was damaged, and another process has just set it aside"
        path.rename(aside)
        for end in BESIDE:
            belonging = path.with_name(path.name + end)
            if belonging.exists():
                belonging.rename(aside.with_name(aside.name + end))
    except OSError as error:
        message = f"the history {path} is damaged and cannot be set aside: {error.strerror or error}"
        raise OutputError(Fault(message, hint=ELSEWHERE)) from error
    finally:
        connection.close()
    return f"the history {path} is damaged: it is kept as {aside.name}, and a new one is begun"
