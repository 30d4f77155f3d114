"""The tables of a history, made and changed in numbered steps: each in one transaction with its number."""

from __future__ import annotations

import json
import sqlite3
import zlib
from collections.abc import Callable, Mapping
from typing import Any

from assembly.database import number_of, transaction

APPLICATION = 0x53574752
"""Marks the file as a history of Swingroom (``PRAGMA application_id``); its four letters are SWGR."""

PairRow = tuple[int, str, str, str, float | None, float | None, float | None, float, str, bool, float | None]


def compressed(text: str) -> bytes:
    """A record's JSON as it is stored; its checksum tells damage."""
    return zlib.compress(text.encode("utf-8"))


def decompressed(blob: bytes) -> str:
    """The JSON of a stored record. Raises zlib.error or ValueError where it is damaged."""
    return zlib.decompress(blob).decode("utf-8")


def version_of(connection: sqlite3.Connection) -> int:
    """The number of the last step that was done."""
    return number_of(connection, "user_version")


def migrate(connection: sqlite3.Connection) -> None:
    """Do every step that is not done yet, one transaction each; another process may be doing the same."""
    while version_of(connection) < len(STEPS):
        with transaction(connection):
            done = version_of(connection)
            if done < len(STEPS):
                STEPS[done](connection)
                connection.execute(f"PRAGMA user_version = {done + 1}")


def pair_rows(number: int, pairs: list[Mapping[str, Any]]) -> list[PairRow]:
    """What is kept of every pair beside the record, from the ``pairs`` of the record's JSON."""
    return [
        (
            number,
            pair["a"],
            pair["b"],
            pair["verdict"],
            pair["least_mm"],
            pair["overlap"]["depth_mm"] if pair["overlap"] else None,
            pair["proven_mm"],
            pair["required_mm"],
            json.dumps(pair["at"]),
            bool(pair.get("closed_in", False)),
            pair["overlap"].get("at_most_mm") if pair["overlap"] else None,
        )
        for pair in pairs
    ]


PUT_PAIR = "INSERT INTO pairs VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"


def _runs(connection: sqlite3.Connection) -> None:
    """Runs, numbered so that no number is ever given twice, and what their files were."""
    connection.execute(f"PRAGMA application_id = {APPLICATION}")
    connection.execute("""
        CREATE TABLE runs (
            number INTEGER PRIMARY KEY AUTOINCREMENT,
            machine TEXT NOT NULL,
            made TEXT NOT NULL,
            file TEXT NOT NULL,
            name TEXT NOT NULL,
            verdict TEXT NOT NULL,
            digest TEXT NOT NULL,
            version TEXT NOT NULL,
            git_commit TEXT,
            seconds REAL NOT NULL,
            least_room REAL,
            record BLOB NOT NULL
        )""")
    connection.execute("CREATE INDEX runs_of_machine ON runs (machine, number)")
    connection.execute("""
        CREATE TABLE digests (
            run INTEGER NOT NULL REFERENCES runs (number),
            file TEXT NOT NULL,
            sha256 TEXT NOT NULL,
            PRIMARY KEY (run, file)
        ) WITHOUT ROWID""")


def _pairs(connection: sqlite3.Connection) -> None:
    """Every pair's figures in a table of their own, so that one pair over time needs no record unpacked."""
    connection.execute("""
        CREATE TABLE pairs (
            run INTEGER NOT NULL REFERENCES runs (number),
            a TEXT NOT NULL,
            b TEXT NOT NULL,
            verdict TEXT NOT NULL,
            least_mm REAL,
            depth_mm REAL,
            proven_mm REAL,
            required_mm REAL NOT NULL,
            settings TEXT NOT NULL,
            PRIMARY KEY (run, a, b)
        ) WITHOUT ROWID""")
    for number, blob in connection.execute("SELECT number, record FROM runs ORDER BY number").fetchall():
        try:
            pairs = json.loads(decompressed(blob))["pairs"]
        except (zlib.error, ValueError):
            continue
        rows = [row[:9] for row in pair_rows(number, pairs)]
        connection.executemany("INSERT INTO pairs VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)", rows)


def _closed_in(connection: sqlite3.Connection) -> None:
    """Whether a pair's least was closed in on; of runs before that was kept it is not known, so not taken as so."""
    connection.execute("ALTER TABLE pairs ADD COLUMN closed_in INTEGER NOT NULL DEFAULT 0")


def _depth_at_most(connection: sqlite3.Connection) -> None:
    """What no setting is deeper than; of runs before that was kept the depth found may not be the greatest."""
    connection.execute("ALTER TABLE pairs ADD COLUMN depth_at_most_mm REAL")


STEPS: tuple[Callable[[sqlite3.Connection], None], ...] = (_runs, _pairs, _closed_in, _depth_at_most)
"""Step ``k`` brings a history from version ``k`` to ``k + 1``; a step that was ever released is never changed."""
