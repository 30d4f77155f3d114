"""Where each entry of a TOML text stands: table path → line and column. The only door to tree-sitter."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator
from functools import cached_property

import tree_sitter_toml
from tree_sitter import Language, Node, Parser

Place = tuple[str | int, ...]
"""Keys and list indices from the top of the file: ``("parts", "frame", "shapes", 2)``."""

_KEYS = ("bare_key", "quoted_key", "dotted_key")
_TABLES = ("table", "table_array_element")


class Positions:
    """The lines of one TOML text, found when first asked for; the text may have small faults."""

    def __init__(self, text: str) -> None:
        self._text = text

    def line(self, place: Place) -> int | None:
        """The line (from 1) of ``place`` or of the nearest table round it; None for the file itself."""
        found = self.find(place)
        return found[0] if found else None

    def find(self, place: Place) -> tuple[int, int] | None:
        """Line and column (from 1, in characters) of ``place`` or of the nearest table round it."""
        for length in range(len(place), 0, -1):
            found = self._index.get(place[:length])
            if found:
                return found
        return None

    @cached_property
    def _index(self) -> dict[Place, tuple[int, int]]:
        source = self._text.encode(errors="replace")
        root = Parser(Language(tree_sitter_toml.language())).parse(source).root_node
        lines = source.split(b"\n")
        index: dict[Place, tuple[int, int]] = {}
        for place, node in _entries(root):
            row, column = node.start_point
            index.setdefault(place, (row + 1, len(lines[row][:column].decode(errors="replace")) + 1))
        return index


def _entries(root: Node) -> Iterator[tuple[Place, Node]]:
    """Every table, key and list entry with the node where it starts, walked without recursion."""
    counts: Counter[Place] = Counter()
    pending: list[tuple[Place, Node]] = []
    for node in root.named_children:
        if node.type in _TABLES:
            steps = _header(node, counts)
            yield from ((steps[:length], node) for length in range(1, len(steps) + 1))
            pending += [(steps, child) for child in node.named_children]
        else:
            pending.append(((), node))
    while pending:
        place, node = pending.pop()
        if node.type == "pair":
            steps = (*place, *_steps(node.named_children[0]))
            yield from ((steps[:length], node) for length in range(len(place) + 1, len(steps) + 1))
            pending += [(steps, child) for child in node.named_children[1:]]
        elif node.type == "array":
            values = [child for child in node.named_children if child.type not in ("comment", "ERROR")]
            yield from (((*place, number), child) for number, child in enumerate(values))
            pending += [((*place, number), child) for number, child in enumerate(values)]
        elif node.type in ("inline_table", "ERROR"):
            pending += [(place, child) for child in node.named_children]


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
