"""Names that say a side: what lies on the other one, and what a part without a twin has on one side alone."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from assembly.model.fault_list import shown
from assembly.model.file_tables import PartTable
from assembly.model.machine import FindingKind, Part
from assembly.model.reading import Bench

_SIDES = {"left": 1, "right": -1}
"""The sign of y on the side that a word names; of other words the parts themselves tell."""
_MOST = 3
"""So many parts of a word on one side, and no more than one on the other, tell which side the word means."""


def note_names(tables: Mapping[str, PartTable], parts: Mapping[str, Part], bench: Bench) -> None:
    """Note what the names of parts and shapes promise and the file does not hold."""
    _note_wrong_sides(tables, parts, bench)
    _note_lonely_shapes(tables, bench)


def _note_wrong_sides(tables: Mapping[str, PartTable], parts: Mapping[str, Part], bench: Bench) -> None:
    """Parts that lie wholly on the side that their name does not say."""
    mirror = bench.mirror
    for word, other in mirror.words.items():
        lie: dict[str, int] = {}
        for name in tables:
            if mirror.holds(name, word) and name in parts and not mirror.says_both(name):
                lie[name] = _side_of(parts[name])
        meant = _SIDES.get(word.lower()) or -_SIDES.get(other.lower(), 0) or _majority(list(lie.values()))
        for name, side in lie.items():
            if meant and side == -meant:
                where = "the right (y below 0)" if side < 0 else "the left (y above 0)"
                told = f"its name says {word}, but all of it lies on {where}; its twin lies on the other side"
                bench.note(("parts", name), told, FindingKind.WRONG_SIDE)


def _side_of(part: Part) -> int:
    """1 where all of ``part`` has y above 0, -1 where below, else 0."""
    low, high = part.mesh.bounds[:, 1] if part.shapes else (0.0, 0.0)
    return int(low > 0) - int(high < 0)


def _majority(sides: list[int]) -> int:
    for sign in (1, -1):
        if sides.count(sign) >= _MOST and sides.count(-sign) <= 1:
            return sign
    return 0


def _note_lonely_shapes(tables: Mapping[str, PartTable], bench: Bench) -> None:
    """Shapes of parts without a twin whose name says a side, where no such part has the one of the other side."""
    mirror = bench.mirror
    named = {
        (name, number, key): shape
        for name, table in tables.items()
        if mirror.other_side(name) == name
        for key, number, shape in _named(table)
    }
    every = set(named.values())
    for (name, number, key), shape in named.items():
        other = mirror.other_side(shape)
        if other != shape and other not in every:
            word = next(word for pair in mirror.words.items() for word in pair if mirror.holds(shape, word))
            told = (
                f"{name} has no twin, so nothing mirrors {shown(shape)}: draw {shown(other)} too, or leave out {word}"
            )
            bench.note(("parts", name, key, number), told, FindingKind.WRONG_SIDE)


def _named(table: PartTable) -> Iterator[tuple[str, int, str]]:
    """Key, number and name of every shape and mesh that has a name."""
    for key, entries in (("shapes", table.shapes), ("meshes", table.meshes)):
        for number, entry in enumerate(entries):
            if isinstance(entry, dict) and isinstance(entry.get("name"), str):
                yield key, number, entry["name"]
