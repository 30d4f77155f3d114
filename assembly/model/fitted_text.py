"""A mechanism file with other values at the numbers that may differ: its changed lines, and the whole text."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass

from assembly.errors import Fault, InputError
from assembly.model.machine import Machine
from assembly.model.positions import Place, Positions
from assembly.model.source import Source
from assembly.model.survey import Uncertain

DIGITS = 3
"""Decimals of fitted values: a thousandth of a mm or degree."""
_VALUE = re.compile(r"[-+]?[0-9][0-9_]*(?:\.[0-9_]+)?(?:[eE][-+]?[0-9]+)?|\"[^\"]*\"|'[^']*'")
_KEY = re.compile(r"(?:[\w-]+|\"[^\"]*\"|'[^']*')(?:\s*\.\s*[\w-]+)*\s*=\s*")


@dataclass(frozen=True, slots=True)
class FittedText:
    """The ``text`` of a file with other numbers, and the lines that are not as before, by their numbers from 1."""

    text: str
    lines: Mapping[int, str]


def fitted_text(machine: Machine, values: Mapping[Uncertain, float]) -> FittedText:
    """The file of ``machine`` with ``values`` for some of its marked numbers, and all else as it is.

    What is worked out by arithmetic keeps it, with the difference behind it. Raises InputError where a number cannot be
    found in the text, and for a machine that no file describes.
    """
    if machine.origin is None:
        raise InputError(Fault("this machine was not read from a file", hint="load one with assembly.load(FILE)"))
    source = machine.origin.source
    text, positions = source.text, Positions(source.text)
    spans = [(*_span(source, positions, one.place), _written(one, value)) for one, value in values.items()]
    for start, end, written in sorted(spans, reverse=True):
        text = text[:start] + written + text[end:]
    before, after = source.text.split("\n"), text.split("\n")
    changed = {
        number: new.rstrip() for number, (old, new) in enumerate(zip(before, after, strict=True), 1) if old != new
    }
    return FittedText(text, changed)


def _written(one: Uncertain, value: float) -> str:
    if not one.written:
        return _number(value)
    change = round(value - one.value, DIGITS)
    sign = "-" if change < 0 else "+"
    return json.dumps(f"{one.written} {sign} {_number(abs(change))}", ensure_ascii=False)


def _number(value: float) -> str:
    return f"{value:z.{DIGITS}f}".rstrip("0").rstrip(".")


def _span(source: Source, positions: Positions, place: Place) -> tuple[int, int]:
    """Where the number at ``place`` begins and ends in the text."""
    for tried in _places(place):
        found = positions.find(tried)
        if found is None:
            continue
        line, column = found
        start = sum(len(one) + 1 for one in source.text.split("\n")[: line - 1]) + column - 1
        key = _KEY.match(source.text, start)
        start = key.end() if key else start
        value = _VALUE.match(source.text, start)
        if value:
            return start, value.end()
    told = f"the number `{'.'.join(map(str, place))}` was not found in the text of the file"
    raise InputError(Fault(told, file=source.label, hint="write it as one plain number of a table"))


def _places(place: Place) -> tuple[Place, ...]:
    """Where a number may stand: in the table of a mark, or as it is."""
    if isinstance(place[-1], int):
        return ((*place[:-1], "at", place[-1]),)
    return ((*place, "value"),) if place[0] == "dimensions" else (place,)
