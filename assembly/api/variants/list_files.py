"""Sets of numbers in a file: each row of a CSV, or each ``[[variants]]`` of a TOML file, is one variant."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping, Sequence
from io import StringIO
from math import isfinite
from pathlib import Path
from typing import Any

from assembly.errors import Fault, InputError
from assembly.model.fault_list import shown
from assembly.model.source import Source, source_of, tables_of

NAME = "name"
"""The column, or the key, that says what a set is called."""
OF_CSV = "the first row names the numbers, and `name` what a variant is called; each other row is one variant"
OF_TOML = 'write each as [[variants]] with `set = { arm = 190 }`, and `name = "..."` if it is to have one'
LARGEST = 1e9

Sets = list[tuple[str, Mapping[str, float]]]
"""What each set is called, and its numbers by name."""


def read_sets(path: Path) -> Sets:
    """The sets of the file at ``path``. InputError names the line of what is wrong."""
    source = source_of(path, "a list of sets of numbers (.csv or .toml)")
    read = _of_toml if path.suffix.lower() == ".toml" else _of_csv
    sets = list(read(source))
    if not sets:
        raise InputError(Fault("there is no set in it", file=str(path), hint=_hint(path)))
    return sets


def _hint(path: Path) -> str:
    return OF_TOML if path.suffix.lower() == ".toml" else OF_CSV


def _of_csv(source: Source) -> Iterator[tuple[str, Mapping[str, float]]]:
    """Cells that are empty stand for what the file of the machine has; so do rows that end early."""
    rows = csv.reader(StringIO(source.text, newline=""), delimiter=_delimiter(source.text))
    try:
        names = [name.strip() for name in next(rows, [])]
        if not any(names) or len(set(names)) < len(names):
            raise InputError(Fault("the first row does not name each number once", file=source.label, hint=OF_CSV))
        for row in rows:
            if not any(cell.strip() for cell in row):
                continue
            if len(row) > len(names):
                told = f"a row has {len(row)} cells and the first row only {len(names)}"
                raise InputError(Fault(told, file=source.label, line=rows.line_num, hint=OF_CSV))
            cells = {name: cell.strip() for name, cell in zip(names, row, strict=False) if cell.strip()}
            called = cells.pop(NAME, "")
            yield called, {name: _of_text(cell, name, source, rows.line_num) for name, cell in cells.items()}
    except csv.Error as error:
        raise InputError(Fault(f"it cannot be read: {error}", file=source.label, hint=OF_CSV)) from None


def _delimiter(text: str) -> str:
    """What stands between cells: the sign that is oftenest in the first row, as spreadsheets write it."""
    first: Sequence[str] = text.splitlines()[:1]
    return max(",;\t", key=first[0].count) if first else ","


def _of_text(cell: str, name: str, source: Source, line: int) -> float:
    try:
        return _checked(float(cell))
    except ValueError:
        hint = "write a number with a point, such as 12.5, or nothing for what the machine's file has"
        raise InputError(Fault(f"{shown(cell)} is not a number", name, source.label, line, hint)) from None


def _of_toml(source: Source) -> Iterator[tuple[str, Mapping[str, float]]]:
    tables = tables_of(source)
    entries = tables.pop("variants", None)
    if not isinstance(entries, list) or tables:
        raise InputError(Fault("it is not a list of variants", file=source.label, hint=OF_TOML))
    for number, entry in enumerate(entries):
        yield _of_table(entry, f"variants[{number}]", source)


def _of_table(entry: Any, place: str, source: Source) -> tuple[str, Mapping[str, float]]:
    numbers = entry.get("set") if isinstance(entry, dict) else None
    if not isinstance(numbers, dict) or entry.keys() - {"set", NAME} or not isinstance(entry.get(NAME, ""), str):
        raise InputError(Fault("it is not a variant", place, source.label, hint=OF_TOML))
    for name, value in numbers.items():
        if isinstance(value, bool) or not isinstance(value, int | float) or abs(value) > LARGEST or value != value:
            told = f"{shown(name)} is not a number of a size that can be used"
            raise InputError(Fault(told, f"{place}.set", source.label, hint=OF_TOML))
    return entry.get(NAME, ""), {name: float(value) for name, value in numbers.items()}


def _checked(value: float) -> float:
    if not isfinite(value) or abs(value) > LARGEST:
        raise ValueError
    return value
