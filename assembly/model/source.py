"""A mechanism file as text and as tables. The only door to tomli."""

from __future__ import annotations

import errno
import hashlib
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import tomli

from assembly.errors import Fault, InputError
from assembly.geometry.regular import regular_bytes

MOST_BYTES = 16_000_000
DEEPEST_NESTING = 40
_TEXT_OR_COMMENT = re.compile(r"\"[^\"]*\"|'[^']*'|#.*")
_SLIPS = (
    (re.compile(r"=\s*([-+]?\d+),(\d+)"), "use a point: {0}.{1}"),
    (re.compile(r"[\u201c\u201d\u201e\u2018\u2019\u00ab\u00bb]"), 'use straight quotes: "text"'),
    (re.compile(r"=\s*(True|False|yes|no)\b"), "write true or false, in small letters"),
    (
        re.compile(r"[=\[,]\s*([-+]?[\d.]+)\s*(mm|cm|m|deg|°|inch)(?!\w)"),
        "numbers stand without a unit: {0}",
    ),
    (re.compile(r"[=\[,]\s*([-+]?\d+)\.\s*[,}\]]"), "a digit stands behind the point: {0}.0"),
    (re.compile(r"[=\[,]\s*([-+]?)\.(\d+)"), "a digit stands before the point: {0}0.{1}"),
    (re.compile(r"[=\[,]\s*([-+]?)0+(\d[\d.]*)"), "a number does not begin with 0: {0}{1}"),
    (re.compile(r"=\s*([-+]?[\d.]+)\s*(\+-|\+/-|±)\s*([\d.]+)"), "a tolerance: {{ value = {0}, plus_minus = {2} }}"),
    (re.compile(r"=\s*([-+\d.]+\s*[-+*/][^,}\]]*)"), 'arithmetic stands in quotes: "{0}"'),
    (re.compile(r"[=\[,]\s*([A-Za-z_]\w*)\s*([,}\]]|$)"), 'names and arithmetic stand in quotes: "{0}"'),
    (re.compile(r"[{,]\s*(\w+)\s*:"), "write = between a key and its value: {0} = ..."),
    (re.compile(r"^\s*(//|;|--|/\*)"), "a comment begins with #"),
    (re.compile(r"^\s*\(([\w.]+)\)"), "a table's name stands in square brackets: [{0}]"),
    (re.compile(r"^\s*\[\s*(\w+)\s+(\w+)\s*\]"), "a point stands between the words: [{0}.{1}]"),
)
"""What people write instead of TOML, and what is valid; told of the line at which reading ended."""
_BYTE_ORDER_MARK = "\ufeff"


@dataclass(frozen=True, slots=True)
class Source:
    """The text of a file, what faults call it, the name it has in its folder and the SHA-256 of its bytes."""

    text: str
    label: str
    name: str
    digest: str


@dataclass(frozen=True, slots=True)
class Origin:
    """A mechanism file, and the folder that the paths of its mesh files count from."""

    source: Source
    folder: Path


def source_of(path: Path, wanted: str = "a mechanism file (.toml)") -> Source:
    """The file at ``path``, read as UTF-8 with or without a byte order mark. InputError where that fails.

    ``wanted``: what is asked for, in the words of the hint where there is no such file.
    """
    try:
        data = regular_bytes(path, MOST_BYTES)
    except FileNotFoundError:
        raise _refused(path, "there is no such file", f"give the path of {wanted}") from None
    except IsADirectoryError:
        raise _refused(path, "this is a folder", "give the mechanism file in it (.toml)") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        hint = "a mechanism file is a short text" if getattr(error, "errno", None) == errno.EFBIG else ""
        raise _refused(path, f"the file cannot be read: {reason}", hint) from None
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
    hint = _hint(source.text, line, problem)
    raise InputError(Fault(f"this is not TOML that can be read: {problem}", file=source.label, line=line, hint=hint))


def _hint(text: str, line: int | None, problem: str) -> str:
    """What to do about a text that is not TOML: the commonest slip that its line shows, else how TOML is written."""
    if line is None:
        return "no mechanism file needs that"
    if "Illegal character '\\n'" in problem:
        return "a text that was begun with a quote is not closed in this line"
    told = "" if "twice" in problem else _slip(_without_texts(text.splitlines()[line - 1] if text else ""))
    return told or "each name stands once in its table, texts are in quotes, entries of a list have commas between them"


def _slip(written: str) -> str:
    """The slip that one line without its texts and comments shows; empty where none is known."""
    for pattern, told in _SLIPS:
        found = pattern.search(written)
        if found:
            return told.format(*(each and each.strip() for each in found.groups()))
    return ""


def _without_texts(line: str) -> str:
    """A line with its quoted texts emptied and its comment taken off."""
    return _TEXT_OR_COMMENT.sub(lambda found: '""' if found[0][0] != "#" else "", line)


def _is_deep(tables: dict[str, Any]) -> bool:
    level: list[Any] = [tables]
    for _ in range(DEEPEST_NESTING):
        level = [
            child
            for value in level
            for child in (value.values() if isinstance(value, dict) else value)
            if isinstance(child, (dict, list))
        ]
    return bool(level)


def _refused(path: Path, problem: str, hint: str) -> InputError:
    return InputError(Fault(problem, file=str(path), hint=hint))
