"""Rows that this very program kept on disk, each under a key and behind a keyed digest; in one SQLite file.

Light to load: what is known of a whole file is looked up before anything that computes is. Whatever goes wrong costs
time only: it is said, and the work goes on.
"""

from __future__ import annotations

import errno
import hashlib
import hmac
import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from assembly.database import BESIDE, DAMAGED, code_of, connected, is_marked, transaction, write_ahead
from assembly.folders import cache_folder
from assembly.program import program_digest

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


WAIT_S = 10.0
"""How long to wait for another writer."""
AT_ONCE = 500
"""Keys asked for in one statement; SQLite allows 999 in its oldest builds."""
MOST_BYTES = 256_000_000
"""What was not used for longest is let go beyond this."""
SEAL_BYTES = 32
LOSS = "which costs time only"
APPLICATION = 0x53574D50
"""Marks the file as ours, so that no other database is ever written to."""

TABLE = """
CREATE TABLE IF NOT EXISTS known (
  key TEXT PRIMARY KEY,
  used INTEGER NOT NULL,
  packed BLOB NOT NULL
) WITHOUT ROWID
"""

Say = Callable[[str], None]


class SealedRows:
    """Rows by key, on disk. Never raises: what cannot be read is not known. ``anew``: nothing is known."""

    def __init__(self, path: Path, say: Say, *, anew: bool = False) -> None:
        self.path, self._say, self._anew = path, say, anew
        self._used: list[str] = []
        self._connection = self._opened()

    def close(self) -> None:
        """Let go of the file."""
        if self._connection is not None:
            self._connection.close()
            self._connection = None

    def look_up(self, keys: Sequence[str]) -> Iterator[tuple[str, bytes]]:
        """The rows of these keys; those that are not known, or are not as they were written, are left out."""
        own = {_own(key): key for key in keys}
        if self._connection is not None and not self._anew:
            with self._told("read"):
                for key, row in _rows(self._connection, list(own)):
                    data = _opened_seal(key, row)
                    if data is not None:
                        yield own[key], data

    def used(self, key: str) -> None:
        """Take note that the row of a key was of use."""
        self._used.append(_own(key))

    def keep(self, rows: Mapping[str, bytes]) -> None:
        """Keep these rows, and note that those that were used are still of use; in one transaction."""
        if self._connection is not None:
            sealed = [(own, _sealed(own, data)) for own, data in ((_own(key), data) for key, data in rows.items())]
            with self._told("write to"):
                _write(self._connection, sealed, self._used)

    def _opened(self) -> sqlite3.Connection | None:
        """The file, made if there is none; a damaged one is deleted, for all that is in it can be made again.

        A file that is something else is never touched.
        """
        for _ in range(2):
            try:
                return _connected(self.path)
            except sqlite3.DatabaseError as error:
                if code_of(error) not in DAMAGED:
                    self._say(f"cannot use {self.path}, {LOSS}: {error}")
                    return None
                self._say(f"{self.path} is damaged and is begun anew, {LOSS}")
                self._delete()
            except OSError as error:
                self._say(f"cannot use {self.path}, {LOSS}: {error.strerror or error}")
                return None
        return None

    def _delete(self) -> None:
        for end in ("", *BESIDE):
            with suppress(OSError):
                self.path.with_name(self.path.name + end).unlink()

    @contextmanager
    def _told(self, doing: str) -> Iterator[None]:
        """Give the file up where it fails, and say so."""
        try:
            yield
        except sqlite3.Error as error:
            self.close()
            self._say(f"cannot {doing} {self.path}, {LOSS}: {error}")
            if code_of(error) in DAMAGED:
                self._delete()


def _connected(path: Path) -> sqlite3.Connection:
    path.parent.mkdir(parents=True, exist_ok=True)
    if path.is_dir():
        raise IsADirectoryError(errno.EISDIR, "a folder is in the way")
    begun = path.exists() and path.stat().st_size > 0
    if begun and not is_marked(path, APPLICATION):
        raise OSError(errno.EINVAL, "it is something else; SWINGROOM_MEMORY names another file")
    connection = connected(path, WAIT_S)
    try:
        if not begun:
            connection.execute(f"PRAGMA application_id = {APPLICATION}")
        write_ahead(connection, "NORMAL")
        connection.execute(TABLE)
        connection.execute("SELECT key, used, packed FROM known LIMIT 1")
    except BaseException:
        connection.close()
        raise
    return connection


def _rows(connection: sqlite3.Connection, keys: list[str]) -> Iterator[tuple[str, bytes]]:
    for start in range(0, len(keys), AT_ONCE):
        some = keys[start : start + AT_ONCE]
        marks = ", ".join("?" * len(some))
        statement = f"SELECT key, packed FROM known WHERE key IN ({marks})"  # noqa: S608 - only question marks go in
        yield from connection.execute(statement, some)


def _write(connection: sqlite3.Connection, rows: Sequence[tuple[str, bytes]], recalled: Sequence[str]) -> None:
    with transaction(connection):
        (last,) = connection.execute("SELECT coalesce(max(used), 0) FROM known").fetchone()
        connection.executemany("UPDATE known SET used = ? WHERE key = ?", ((last + 1, key) for key in recalled))
        connection.executemany(
            "INSERT OR REPLACE INTO known VALUES (?, ?, ?)", ((key, last + 1, row) for key, row in rows)
        )
        _let_go(connection)


def _let_go(connection: sqlite3.Connection) -> None:
    """Delete what was not used for longest until the rest is small enough; never what was used just now."""
    while True:
        size, first, last = connection.execute("SELECT sum(length(packed)), min(used), max(used) FROM known").fetchone()
        if (size or 0) <= MOST_BYTES or first == last:
            return
        connection.execute("DELETE FROM known WHERE used = ?", (first,))


def _own(key: str) -> str:
    """The key of what this very program found."""
    return hashlib.sha256(f"{program_digest()} {key}".encode()).hexdigest()


def _sealed(own: str, data: bytes) -> bytes:
    """``data`` behind a digest of it and of the row's key, which is keyed by the digest of this very program.

    That is not in the file: whoever edits a row, or puts it under another key, cannot make the digest by what is there.
    """
    return _seal(own, data) + data


def _seal(own: str, data: bytes) -> bytes:
    return hashlib.blake2b(own.encode() + data, key=program_digest().encode(), digest_size=SEAL_BYTES).digest()


def _opened_seal(own: str, row: object) -> bytes | None:
    """What was sealed; None of a row that is not as it was written: altered, or another key's."""
    if not isinstance(row, bytes):
        return None
    seal, data = row[:SEAL_BYTES], row[SEAL_BYTES:]
    return data if hmac.compare_digest(seal, _seal(own, data)) else None
