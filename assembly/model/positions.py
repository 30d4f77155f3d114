"""Where each entry of a TOML text stands: table path → line and column. The only door to tree-sitter."""

from __future__ import annotations

import json
from collections import Counter
from functools import cached_property

import tree_sitter_toml
from tree_sitter import Language, Node, Parser

Place = tuple[str | int, ...]
"""Keys and list indices from the top of the file: ``("parts", "frame", "shapes", 2)``."""

_KEYS = ("bare_key", "quoted_key", "dotted_key")
_TABLES = ("table", "table_array_element")


_BEGINNING = 65536
"""Bytes of a long text that are looked into first."""


class Positions:
    """The lines of one TOML text, found when they are asked for; the text may have small faults.

    Of a long text the beginning is looked into first: fifty faults mostly lie there, and the whole of a megabyte takes
    a third of a second.
    """

    def __init__(self, text: str) -> None:
        self._text = text

    def line(self, place: Place) -> int | None:
        """The line (from 1) of ``place`` or of the nearest table round it; None for the file itself."""
        found = self.find(place)
        return found[0] if found else None

    def find(self, place: Place) -> tuple[int, int] | None:
        """Line and column (from 1, in characters) of ``place`` or of the nearest table round it."""
        if self._beginning and self._beginning.is_sound and (found := self._beginning.find(place, exactly=True)):
            return found
        return self._whole.find(place)

    @cached_property
    def _source(self) -> bytes:
        return self._text.encode(errors="replace")

    @cached_property
    def _beginning(self) -> _Piece | None:
        """Whole lines from the beginning of a long text. Where they are sound TOML they end between two entries."""
        return (
            _Piece(self._source[: self._source.rfind(b"\n", 0, _BEGINNING) + 1])
            if len(self._source) > 2 * _BEGINNING
            else None
        )

    @cached_property
    def _whole(self) -> _Piece:
        return _Piece(self._source)


class _Piece:
    """The beginning of a text, or all of it: only the tables and lists on the way to what is asked for are opened."""

    def __init__(self, source: bytes) -> None:
        self._lines = source.split(b"\n")
        self._found: dict[Place, tuple[int, int]] = {}
        """Row and column in bytes, from 0, of the places that were come across."""
        self._closed: dict[Place, list[Node]] = {}
        """What stands at each place and was not looked into yet."""
        counts: Counter[Place] = Counter()
        root = Parser(Language(tree_sitter_toml.language())).parse(source).root_node
        self.is_sound = not root.has_error
        for node in root.named_children:
            steps = _header(node, counts) if node.type in _TABLES else ()
            for length in range(1, len(steps) + 1):
                self._found.setdefault(steps[:length], node.start_point)
            self._closed.setdefault(steps, []).append(node)

    def find(self, place: Place, *, exactly: bool = False) -> tuple[int, int] | None:
        """Line and column of ``place``, or of the nearest table round it unless ``exactly`` this one is wanted."""
        for length in range(len(place)):
            self._open(place[:length])
        for length in range(len(place), len(place) - 1 if exactly else 0, -1):
            found = self._found.get(place[:length])
            if found:
                row, column = found
                return row + 1, len(self._lines[row][:column].decode(errors="replace")) + 1
        return None

    def _open(self, place: Place) -> None:
        """Note what lies right below ``place``."""
        pending = self._closed.pop(place, [])[::-1]
        while pending:
            node = pending.pop()
            if node.type == "pair":
                steps = (*place, *_steps(node.named_children[0]))
                for length in range(len(place) + 1, len(steps) + 1):
                    self._found.setdefault(steps[:length], node.start_point)
                self._closed.setdefault(steps, []).extend(node.named_children[1:])
            elif node.type == "array":
                values = [child for child in node.named_children if child.type not in ("comment", "ERROR")]
                for number, child in enumerate(values):
                    self._found.setdefault((*place, number), child.start_point)
                    self._closed.setdefault((*place, number), []).append(child)
            elif node.type in (*_TABLES, "inline_table", "ERROR"):
                pending += node.named_children[::-1]


def _header(node: Node, counts: Counter[Place]) -> Place:
    """The place of a ``[table]`` or ``[[list entry]]``, below the newest entries of lists of tables."""
    keys = next((_steps(child) for child in node.named_children if child.type in _KEYS), ())
    place: Place = ()
    for number, key in enumerate(keys, start=1):
        place = (*place, key)
        if number == len(keys) and node.type == "table_array_element":
            counts[place] += 1
        if counts[place]:
            place = (*place, counts[place] - 1)
    return place


def _steps(node: Node) -> tuple[str, ...]:
    """The keys that a bare, quoted or dotted key names."""
    keys, pending = [], [node]
    while pending:
        part = pending.pop()
        if part.type == "dotted_key":
            pending += reversed(part.named_children)
        elif part.type in _KEYS:
            keys.append(_key(part))
    return tuple(keys)


def _key(node: Node) -> str:
    text = (node.text or b"").decode(errors="replace")
    if node.type == "bare_key":
        return text
    if text.startswith("'"):
        return text[1:-1]
    try:
        return str(json.loads(text))
    except ValueError:
        return text[1:-1]
