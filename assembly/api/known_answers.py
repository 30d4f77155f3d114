"""The whole answer to a sweep of an unchanged file, known from an earlier run of the very same program.

An answer lies under a key of all that it depends on: the bytes of the mechanism file and of every mesh file that it
reads, what these files are called and whether they lie in its folder, the options, the largest mesh that is read, and
every source of this program with the libraries that it computes and draws with. Nothing is loaded to look it up that
computes. Runs with a time limit, and runs that ended early, are neither kept nor looked up: what they find depends on
the clock.
"""

from __future__ import annotations

import hashlib
import json
import os
import zlib
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from assembly.cache.sealed_rows import SealedRows, cache_path
from assembly.geometry.mesh_size import largest_now, mesh_bytes
from assembly.geometry.regular import regular_bytes
from assembly.program import whole_program_digest
from assembly.record import Record
from assembly.record.jsonform import json_text, made_of

MOST_BYTES = 16_000_000
"""Of a mechanism file; larger ones are refused."""
LENGTH_BYTES = 8
_FILES, _ANSWER = "files of", "answer to"

Note = Callable[[str], None]
"""Called with what is to be said of the result cache, a sentence at a time."""
Options = Mapping[str, object]
"""What was asked for, by name: numbers, texts and lists of texts."""


@dataclass(frozen=True, slots=True, eq=False)
class KnownAnswer:
    """A record as it was made, and the bytes of its picture if one was drawn."""

    record: Record
    picture: bytes | None


def known_answer(file: Path, options: Options, cores: int, note: Note) -> KnownAnswer | None:
    """The answer to a sweep of ``file``, None if it is not known; ``record`` says that nothing was computed for it."""
    own = _digests(file, [])
    if own is None:
        return None
    with _rows(note) as rows:
        files = _files_key(file, own)
        names = None if rows is None else _row(rows, files)
        digests = None if names is None else _digests(file, json.loads(names))
        if rows is None or digests is None:
            return None
        key = _answer_key(file, options, digests)
        found = _unpacked(_row(rows, key))
        if found is None:
            return None
        rows.used(key)
        rows.used(files)
        rows.keep({})
    return replace(found, record=_recalled(found.record, cores))


def keep_answer(file: Path, options: Options, record: Record, picture: Path | None, note: Note) -> None:
    """Keep what was found, unless it ended early or a file is not any more what it was when it was read.

    The keys are made of the bytes that the answer is of: files may change at any time, while it is kept too.
    """
    digests = dict(record.machine.digests)
    names = [name for name in digests if name != record.machine.file]
    if record.work.stopped or record.work.budget_s is not None or _digests(file, names) != digests:
        return
    answer = _answer_key(file, options, digests)
    with _rows(note) as rows:
        if rows is not None:
            drawn = picture.read_bytes() if picture is not None else b""
            rows.keep({_files_key(file, digests): json.dumps(names).encode(), answer: _packed(record, drawn)})


@contextmanager
def _rows(note: Note) -> Iterator[SealedRows | None]:
    """The file of the result cache, None if there is to be none."""
    path = cache_path(os.environ)
    if path is None:
        yield None
        return
    with closing(SealedRows(path, note)) as rows:
        yield rows


def _row(rows: SealedRows, key: str) -> bytes | None:
    return next((data for _, data in rows.look_up([key])), None)


def _files_key(file: Path, digests: Mapping[str, str]) -> str:
    """Under this the names of the mesh files of a mechanism file are kept."""
    return _key(_FILES, {"file": digests[file.name], "name": file.name})


def _answer_key(file: Path, options: Options, digests: Mapping[str, str]) -> str:
    """The key of the answer for files of these ``digests``."""
    folder = file.parent.resolve()
    outside = {name: not (file.parent / name).resolve().is_relative_to(folder) for name in digests}
    told = {"digests": dict(digests), "outside": outside, "name": file.name, "folder": folder.name}
    return _key(_ANSWER, {**told, "options": dict(options), "largest mesh": largest_now()})


def _digests(file: Path, names: list[str]) -> dict[str, str] | None:
    """The SHA-256 of the mechanism file and of each of its mesh files; None if one cannot be read."""
    try:
        own = {file.name: hashlib.sha256(regular_bytes(file, MOST_BYTES)).hexdigest()}
        return own | {name: hashlib.sha256(mesh_bytes(file.parent / name)).hexdigest() for name in names}
    except (OSError, ValueError, RuntimeError):
        return None


def _key(of: str, told: Mapping[str, object]) -> str:
    return f"{of} {whole_program_digest()} {json.dumps(told, sort_keys=True)}"


def _packed(record: Record, picture: bytes) -> bytes:
    text = zlib.compress(json_text(record).encode(), 1)
    return len(text).to_bytes(LENGTH_BYTES, "big") + text + picture


def _unpacked(row: bytes | None) -> KnownAnswer | None:
    """What was packed; None of anything else."""
    if row is None:
        return None
    end = LENGTH_BYTES + int.from_bytes(row[:LENGTH_BYTES], "big")
    try:
        record = made_of(Record, zlib.decompress(row[LENGTH_BYTES:end]))
    except (ValueError, zlib.error):
        return None
    return KnownAnswer(record, row[end:] or None)


def _recalled(record: Record, cores: int) -> Record:
    """``record`` as of a run now that computed nothing."""
    known = len(record.pairs)
    work = replace(
        record.work, poses=0, distance_queries=0, query_seconds=0.0, cells=0, seconds={}, cores=cores, recalled=known
    )
    return replace(record, work=work, made=datetime.now(UTC).isoformat(timespec="seconds"))
