"""A mechanism file as text and as tables. The only door to tomli."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import tomli

from assembly.errors import Fault, InputError

MOST_BYTES = 16_000_000
DEEPEST_NESTING = 40
_NUMBER_WITH_COMMA = re.compile(r"=\s*([-+]?\d+),(\d+)")
_BYTE_ORDER_MARK = "\ufeff"


@dataclass(frozen=True, slots=True)
class Source:
    """The text of a file, what faults call it, the name it has in its folder and the SHA-256 of its bytes."""

    text: str
    label: str
    name: str
    digest: str


def source_of(path: Path) -> Source:
    """The file at ``path``, read as UTF-8 with or without a byte order mark. InputError where that fails."""
    try:
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except FileNotFoundError:
        raise _refused(path, "there is no such file", "give the path of a mechanism file (.toml)") from None
    except IsADirectoryError:
        raise _refused(path, "this is a folder", "give the mechanism file in it (.toml)") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise _refused(path, f"the file cannot be read: {reason}", "") from None
    if len(data) > MOST_BYTES:
        raise _refused(path, f"the file has more than {MOST_BYTES} bytes", "a mechanism file is a short text")
    try:
        text = data.decode()
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        fault = Fault("the file is not UTF-8 text", file=str(path), line=line, hint="save it in the encoding UTF-8")
        raise InputError(fault) from None
    return Source(text.removeprefix(_BYTE_ORDER_MARK), str(path), path.name, hashlib.sha256(data).hexdigest())


def source_from_text(text: str, name: str) -> Source:
    """A mechanism file that is not on disk."""
    digest = hashlib.sha256(text.encode(errors="surrogatepass")).hexdigest()
    return Source(text.removeprefix(_BYTE_ORDER_MARK), name, name, digest)


def tables_of(source: Source) -> dict[str, Any]:
    """The tables of the file, no deeper than a mechanism file can be. InputError names the line of a fault."""
    line: int | None = None
    try:
        tables = tomli.loads(source.text)
    except tomli.TOMLDecodeError as error:
        lines = source.text.rstrip("\n").count("\n") + 1
        line, problem = min(error.lineno, lines), error.msg
    except (RecursionError, ValueError):
        problem = "a value is too long or too deeply nested"
    else:
        if not _is_deep(tables):
            return tables
        problem = f"tables and lists are nested more than {DEEPEST_NESTING} deep"
    hint = _hint(source.text, line)
    raise InputError(Fault(f"this is not TOML that can be read: {problem}", file=source.label, line=line, hint=hint))


def _hint(text: str, line: int | None) -> str:
    """What to do about a text that is not TOML; a decimal comma is the commonest cause of one kind."""
    if line is None:
        return "no mechanism file needs that"
    comma = _NUMBER_WITH_COMMA.search(text.splitlines()[line - 1] if text else "")
    if comma:
        return f"use a point: {comma[1]}.{comma[2]}"
    return "each name stands once in its table, texts are in quotes"


def _is_deep(tables: dict[str, Any]) -> bool:
    level: list[Any] = [tables]
    for _ in range(DEEPEST_NESTING):
        children: list[Any] = []
        for value in level:
            children += value.values() if isinstance(value, dict) else value
        level = [child for child in children if isinstance(child, (dict, list))]
    return bool(level)


def _refused(path: Path, problem: str, hint: str) -> InputError:
    return InputError(Fault(problem, file=str(path), hint=hint))
