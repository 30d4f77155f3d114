"""Records on disk: written whole or not at all, and read back with every fault told."""

from __future__ import annotations

import json
import os
from pathlib import Path

from assembly.errors import Fault, InputError, OutputError
from assembly.record.entries import FORMAT, Record
from assembly.record.jsonform import json_text, typed
from assembly.temporary import beside, clear_unfinished, unfinished_file


def save(record: Record, path: Path) -> None:
    """Write ``record`` to ``path``; a reader sees the old file or the new one, never half of it. Raises OutputError."""
    write_whole(path, json_text(record))


def load_record(path: Path) -> Record:
    """The record at ``path``. Raises InputError if it is missing, broken or of another format."""
    try:
        text = path.read_text(encoding="utf-8")
    except OSError as error:
        fault = Fault(f"the record cannot be read: {error.strerror or error}", file=str(path), hint="run a sweep first")
        raise InputError(fault) from error
    except UnicodeDecodeError as error:
        fault = Fault(f"the record is not JSON: {error}", file=path.name, hint="run the sweep again")
        raise InputError(fault) from error
    return record_of(text, path.name)


def record_of(text: str, label: str) -> Record:
    """The record that ``text`` holds; ``label`` says where it is from. Raises InputError as ``load_record`` does."""
    try:
        raw = json.loads(text, parse_constant=_refuse)
    except ValueError as error:
        raise InputError(Fault(f"the record is not JSON: {error}", file=label, hint="run the sweep again")) from error
    found = raw.get("format") if isinstance(raw, dict) else None
    if found != FORMAT:
        hint = f"this program reads format {FORMAT}; run the sweep again"
        raise InputError(Fault(f"records of format {found!r} are not known", "format", label, hint=hint))
    return typed(Record, text, label)


def _refuse(constant: str) -> None:
    raise ValueError(f"{constant} is no number of JSON")


def run_name(file: Path) -> str:
    """What the results of a mechanism file go by: never a name that means a folder, as the stem of `...toml` does."""
    return file.stem if file.stem.strip(".") else file.name.strip(".") or "machine"


def prepare_folder(folder: Path) -> None:
    """Make ``folder`` and try whether a file can be put there, before anything long is computed. Raises OutputError.

    What runs that were killed left there unfinished is cleared away.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        clear_unfinished(folder)
        trial = beside(folder / "trial")
        trial.touch()
        trial.unlink()
    except OSError as error:
        raise _cannot_write(folder, error) from error


def write_whole(path: Path, content: str | bytes) -> None:
    """Put ``content`` at ``path`` in one step that no crash or full disk can leave half done. Raises OutputError."""
    try:
        if path.is_dir():
            raise OutputError(Fault(f"cannot write to {path}: a folder is in the way", hint="name a file"))
        with unfinished_file(path.absolute()) as file:
            file.write(content if isinstance(content, bytes) else content.encode("utf-8"))
        _sync_folder(path.parent)
    except OSError as error:
        raise _cannot_write(path, error) from error


def _sync_folder(folder: Path) -> None:
    """Make the new name as lasting as the file's content; where folders cannot be opened there is nothing to do."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _cannot_write(path: Path, error: OSError) -> OutputError:
    in_the_way = isinstance(error, FileExistsError | NotADirectoryError)
    reason = "a file is in the way" if in_the_way else error.strerror or str(error)
    return OutputError(Fault(f"cannot write to {path}: {reason}", hint="name a folder that can be written to"))
