"""The other side of the machine: twins of points, parts, joints and rules, by the words in their names.

A name's words are split at ``_``, ``-`` and spaces; ``[mirror] left = "right"`` gives every entry with the word
``left`` a twin whose y is reversed and whose name says ``right``. An entry that the file writes out itself wins.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import TypeVar

from assembly.model.fault_list import FaultLog, shown
from assembly.model.machine import FindingKind, Joint, Part, RollRule, RoundAbout, Shape, Vector
from assembly.record import FindingEntry

_SEPARATOR = re.compile(r"([_\- ])")

Value = TypeVar("Value")
Twin = TypeVar("Twin")


@dataclass(frozen=True, slots=True)
class Mirror:
    """The pairs of words of one file; empty where the file has no mirror."""

    words: Mapping[str, str] = field(default_factory=dict)
    _across: Mapping[str, str] = field(init=False, repr=False, compare=False)
    """The words either way."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "_across", {**self.words, **{other: word for word, other in self.words.items()}})

    def other_side(self, name: str) -> str:
        """The name across the machine, either way; the same name where it says no side, or both at once."""
        if not self.words or self.says_both(name):
            return name
        return "".join(self._across.get(piece, piece) for piece in _SEPARATOR.split(name))

    def has_twin(self, name: str) -> bool:
        """Whether the mirror makes a twin of an entry with this name."""
        if not self.words:
            return False
        return any(piece in self.words for piece in _SEPARATOR.split(name)) and not self.says_both(name)

    def holds(self, name: str, word: str) -> bool:
        """Whether ``word`` is one of the words of ``name``."""
        return word in _SEPARATOR.split(name)

    def says_both(self, name: str) -> bool:
        """Whether a name holds both words of a pair, so that it has no other side."""
        pieces = _SEPARATOR.split(name) if self.words else []
        return any(self.words.get(piece) in pieces for piece in pieces if piece in self.words)

    def twins(self, entries: Mapping[str, Value], flip: Callable[[str, Value], Twin]) -> dict[str, Twin]:
        """The twins that ``entries`` lack; ``flip`` makes each from its name and its original."""
        made = {self.other_side(name): (name, value) for name, value in entries.items() if self.has_twin(name)}
        return {twin: flip(twin, value) for twin, (_name, value) in made.items() if twin not in entries}

    def originals(self, names: Iterable[str]) -> dict[str, str]:
        """For every twin that ``names`` have: the name of its original."""
        return {self.other_side(name): name for name in names if self.has_twin(name)}

    def notes(self, sections: Mapping[str, Iterable[str]]) -> list[FindingEntry]:
        """What the builder should know: names that say both sides, and words that no name holds."""
        about = [(f"{section}.{name}", name) for section, names in sections.items() for name in names]
        both = "its name holds both words of a mirror pair, so it has no twin"
        unused = "no point, part or joint has this word in its name, so nothing is mirrored"
        held = {piece for _about, name in about for piece in _SEPARATOR.split(name)}
        return [
            *(FindingEntry(FindingKind.NOTE, where, both) for where, name in about if self.says_both(name)),
            *(FindingEntry(FindingKind.NOTE, f"mirror.{word}", unused) for word in self.words if word not in held),
        ]


def read_mirror(words: Mapping[str, str], log: FaultLog) -> Mirror:
    """The mirror of a file; words that cannot tell the sides apart are faults."""
    sound: dict[str, str] = {}
    others: set[str] = set()
    for word, other in words.items():
        place = ("mirror", word)
        wrong = next((each for each in (word, other) if not each.strip() or _SEPARATOR.search(each)), None)
        if wrong is not None:
            log.add(place, f"{shown(wrong)} is not a word", "a word has no spaces, _ or - in it and is not empty")
        elif word == other:
            log.add(place, f"{shown(word)} would mirror to itself", "give the word of the other side")
        elif other in words or other in others:
            log.add(place, f"{shown(other)} stands in two mirror pairs", "use each word once")
        else:
            sound[word] = other
            others.add(other)
    return Mirror(sound)


def flipped(vector: Vector) -> Vector:
    """A point or an arrow seen in the mirror plane y = 0."""
    x, y, z = vector
    return x, 0.0 - y, z


def flip_point(_name: str, point: Vector | None) -> Vector | None:
    """The twin of a point or an arrow, or None where it is faulty or not there."""
    return None if point is None else flipped(point)


def flip_joint(mirror: Mirror, name: str, joint: Joint) -> Joint:
    """The twin of a joint: parts renamed, places and arrows mirrored.

    About a mirrored arrow a mirrored motion turns the other way, so limits of turning change sides; travel along it
    stays what it is.
    """
    turn = joint.turn_limit
    return replace(
        joint,
        name=name,
        first=mirror.other_side(joint.first),
        second=mirror.other_side(joint.second),
        at_first=flipped(joint.at_first),
        at_second=flipped(joint.at_second),
        along=flip_point(name, joint.along),
        along_second=flip_point(name, joint.along_second),
        bolt=flip_point(name, joint.bolt),
        eye=flip_point(name, joint.eye),
        turn_limit=turn and (0.0 - turn[1], 0.0 - turn[0]),
    )


def flip_part(mirror: Mirror, name: str, part: Part, joints: Mapping[str, Joint]) -> Part:
    """The twin of a part: meshes mirrored, shapes and seats renamed; a seat stays only on a joint of the twin's own.

    About a mirrored line a mirrored roll turns the other way.
    """

    def flip(shape: Shape) -> Shape:
        seats = map(mirror.other_side, shape.seats)
        kept = tuple(seat for seat in seats if seat in joints and name in (joints[seat].first, joints[seat].second))
        twin, line = shape.mesh.mirrored(), _flip_line(shape.round_about)
        return Shape(
            mirror.other_side(shape.name), twin, kept, line, shape.estimated, flip_point("", shape.ball), shape.entry
        )

    roll = part.roll if part.roll is None or isinstance(part.roll, RollRule) else 0.0 - part.roll
    return replace(part, name=name, shapes=tuple(map(flip, part.shapes)), roll=roll)


def _flip_line(line: RoundAbout | None) -> RoundAbout | None:
    return line and RoundAbout(flipped(line.at), flip_point("", line.along))
