"""SQLite as the history and the result cache use it: a marked file, written ahead, changed whole or not at all."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Literal
from urllib.parse import quote

MARK = b"SQLite format 3\x00"
MARKED_AT = 68
"""Where in a database file the number of its application stands: four bytes, highest first (SQLite's file format)."""
DAMAGED = frozenset((sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB))
SHUT = frozenset((sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM))
BUSY = frozenset((sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED))
BESIDE = ("-wal", "-shm", "-journal")
"""Ends of the names of files in which SQLite keeps what is not in the main file yet."""


def connected(path: Path, wait_s: float, mode: str = "rwc") -> sqlite3.Connection:
    """The database at ``path``, without transactions of Python's own; ``wait_s``: for another writer."""
    name = f"file:{quote(os.fsencode(path.resolve()))}?mode={mode}"
    return sqlite3.connect(name, uri=True, timeout=wait_s, isolation_level=None)


def write_ahead(connection: sqlite3.Connection, synchronous: Literal["NORMAL", "FULL"]) -> None:
    """Write ahead where the place allows it; a power cut costs the last rows if ``NORMAL``, else nothing."""
    with suppress(sqlite3.OperationalError):
        connection.execute("PRAGMA journal_mode = WAL")
    connection.execute(f"PRAGMA synchronous = {synchronous}")


@contextmanager
def transaction(connection: sqlite3.Connection) -> Iterator[None]:
    """All of it or nothing; waits for another writer first."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


def number_of(connection: sqlite3.Connection, pragma: Literal["user_version", "application_id"]) -> int:
    """A number in the head of the file."""
    return int(connection.execute(f"PRAGMA {pragma}").fetchone()[0])


def is_marked(path: Path, application: int) -> bool:
    """Whether the file is a database of ``application``, seen by its first bytes alone: nothing is opened to write."""
    with path.open("rb") as file:
        head = file.read(MARKED_AT + 4)
    return head.startswith(MARK) and head[MARKED_AT:] == application.to_bytes(4, "big")


def code_of(error: sqlite3.Error) -> int:
    """The primary result code; 0 if the error is not SQLite's own."""
    return (getattr(error, "sqlite_errorcode", 0) or 0) & 0xFF
