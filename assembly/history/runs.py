"""The runs of a history: saved whole or not at all, and asked for by number, machine or pair."""

from __future__ import annotations

import difflib
import json
import sqlite3
import zlib
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from assembly.database import transaction
from assembly.errors import Fault, InputError, SwingroomError
from assembly.history.migrations import PUT_PAIR, compressed, decompressed, pair_rows
from assembly.history.sqlite_errors import told
from assembly.record import PairPoint, Record, RunEntry, json_text
from assembly.record.jsonform import plain
from assembly.record.record_files import record_of

_ENTRIES = (
    "SELECT number, made, machine, file, name, verdict, digest, version, git_commit, seconds, least_room FROM runs"
)

LAST_NUMBER = 2**63 - 1
"""No run can have a higher one: SQLite's whole numbers have 64 bits."""


class History:
    """An open history. Runs are ordered by their numbers, which only grow; clocks may be set back.

    A machine goes by a ``key`` that the caller chooses, such as the whole path of its file.
    """

    def __init__(
        self,
        path: Path,
        connection: sqlite3.Connection,
        notes: tuple[str, ...] = (),
        refused: SwingroomError | None = None,
    ) -> None:
        self.path, self.notes = path, notes
        self._connection, self._refused = connection, refused

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        self._connection.close()

    def check_writable(self) -> None:
        """Raises OutputError if a run could not be saved."""
        if self._refused is not None:
            raise self._refused

    def save(self, record: Record, *, seconds: float, commit: str | None, key: str | None = None) -> int:
        """Put one run in, whole or not at all, and give its number. Raises OutputError."""
        self.check_writable()
        rooms = [pair.sure_room_mm for pair in record.pairs if pair.sure_room_mm is not None]
        values = (
            record.machine.file if key is None else key,
            record.made,
            record.machine.file,
            record.machine.name,
            record.verdict,
            record.machine.digest,
            record.program.version,
            commit,
            seconds,
            min(rooms, default=None),
            compressed(json_text(record)),
        )
        with told(self.path, "write to"), transaction(self._connection):
            number = self._connection.execute(
                "INSERT INTO runs (machine, made, file, name, verdict, digest, version, git_commit, seconds,"
                " least_room, record) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                values,
            ).lastrowid
            digests = [(number, file, digest) for file, digest in record.machine.digests.items()]
            self._connection.executemany("INSERT INTO digests VALUES (?, ?, ?)", digests)
            self._connection.executemany(PUT_PAIR, pair_rows(number or 0, plain(record.pairs)))
        return number or 0

    def runs(self, file: str | None = None) -> tuple[RunEntry, ...]:
        """Every run, or those of the machine with the key ``file``, the newest first."""
        rows = self._asked(f"{_ENTRIES} WHERE ? IS NULL OR machine = ? ORDER BY number DESC", (file, file))
        return tuple(RunEntry(*row) for row in rows)

    def entry(self, number: int) -> RunEntry:
        """One run of the list. Raises InputError if there is none."""
        return RunEntry(*self._row(f"{_ENTRIES} WHERE number = ?", number))

    def record(self, number: int) -> Record:
        """The whole record of one run. Raises InputError if there is no such run or it is damaged."""
        (data,) = self._row("SELECT record FROM runs WHERE number = ?", number)
        try:
            text = decompressed(data)
        except (zlib.error, ValueError, TypeError) as error:
            message = f"run {number} in the history {self.path} is damaged: {error}"
            raise InputError(Fault(message, hint="the other runs are not touched by that")) from error
        return record_of(text, f"run {number}")

    def last(self, file: str, *, good: bool = False, before: int | None = None) -> int | None:
        """The number of the last run of a machine, or the last ``good`` (clear) one; None if there is none."""
        rows = self._asked(
            "SELECT max(number) FROM runs WHERE machine = ? AND (NOT ? OR verdict = 'clear')"
            " AND (? IS NULL OR number < ?)",
            (file, good, before, before),
        )
        found = rows[0][0]
        return None if found is None else int(found)

    def digests(self, number: int) -> dict[str, str]:
        """SHA-256 of the mechanism file and every mesh file of one run, by the name used in the file."""
        return dict(self._asked("SELECT file, sha256 FROM digests WHERE run = ? ORDER BY file", (number,)))

    def pair_over_time(self, file: str, a: str, b: str) -> tuple[PairPoint, ...]:
        """One pair in every run of a machine that checked it, the newest first. InputError if none did."""
        rows = self._asked(
            "SELECT runs.number, runs.made, runs.git_commit, pairs.verdict, least_mm, depth_mm, proven_mm, required_mm,"
            " settings, closed_in, depth_at_most_mm"
            " FROM runs JOIN pairs ON pairs.run = runs.number AND (a, b) IN (VALUES (?, ?), (?, ?))"
            " WHERE machine = ? ORDER BY runs.number DESC",
            (a, b, b, a, file),
        )
        if not rows:
            raise self._no_pair(file, a, b)
        return tuple(
            PairPoint(*(*figures, json.loads(at), bool(closed_in), deep)) for *figures, at, closed_in, deep in rows
        )

    def _no_pair(self, file: str, a: str, b: str) -> InputError:
        rows = self._asked(
            "SELECT a FROM pairs JOIN runs ON runs.number = run WHERE machine = ?1"
            " UNION SELECT b FROM pairs JOIN runs ON runs.number = run WHERE machine = ?1",
            (file,),
        )
        parts = [name for (name,) in rows]
        unknown = next((name for name in (a, b) if name not in parts), None)
        if unknown is None:
            return InputError(Fault(f"{a} and {b} were never checked against each other in the runs of {file}"))
        near = difflib.get_close_matches(unknown, parts, 1)
        hint = f"the nearest name is `{near[0]}`" if near else "save a run with sweep --keep first"
        return InputError(Fault(f"no run of {file} checked a part `{unknown}`", hint=hint))

    def _row(self, question: str, number: int) -> Any:
        """What is asked about one run. Raises InputError if there is none."""
        rows = self._asked(question, (number,)) if number <= LAST_NUMBER else []
        if not rows:
            raise self._no_run(number)
        return rows[0]

    def _no_run(self, number: int) -> InputError:
        ((first, last),) = self._asked("SELECT min(number), max(number) FROM runs", ())
        held = "it is empty" if first is None else f"it holds the runs {first} to {last}"
        return InputError(Fault(f"there is no run {number} in the history {self.path}", hint=held))

    def _asked(self, question: str, values: tuple[object, ...]) -> list[Any]:
        with told(self.path, "read"):
            return self._connection.execute(question, values).fetchall()
