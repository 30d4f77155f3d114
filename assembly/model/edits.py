"""A part's own copies of points as values, and where its joints sit once some of them are changed by so much."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import dist

from assembly.model.quantities import Vector

JointEnd = tuple[str, bool]
"""One end of a joint: its name, and whether the end is in its second part."""


@dataclass(frozen=True, slots=True)
class Edit:
    """One own copy of a point that a part has, by coordinates or by a length from another of its points.

    Points are mm at rest. ``before`` is where the point lay for this part before the edit, ``drawn`` where the file's
    ``[points]`` have it (None: they do not). ``start`` is the name of the point that ``length`` is counted from, at
    ``start_at``; empty and 0 for coordinates. ``place`` and ``line`` are where the file says so; twins share them.
    """

    part: str
    point: str
    own: Vector
    before: Vector
    drawn: Vector | None
    start: str = ""
    start_at: Vector = (0.0, 0.0, 0.0)
    length: float = 0.0
    plus_minus: float = 0.0
    place: str = ""
    line: int | None = None
    ends: tuple[JointEnd, ...] = ()
    """The part's joints that sit at the point."""

    @property
    def drawn_length(self) -> float:
        """The length before the edit; for coordinates 0."""
        return dist(self.start_at, self.before) if self.start else 0.0

    @property
    def moved(self) -> float:
        """How far the edit takes the point, mm."""
        return dist(self.own, self.before)

    def changed(self, change: float, known: Mapping[str, Vector]) -> Vector:
        """Where the point lies with the length ``change`` mm longer, or the coordinates so much nearer to the drawing.

        ``known``: the part's points that earlier edits have set.
        """
        if self.start:
            start, end = known.get(self.start, self.start_at), known.get(self.point, self.before)
            return _towards(start, end, self.length + change)
        return _towards(self.own, self.before, change)


def changed_ends(edits: Iterable[Edit], changes: Mapping[str, float]) -> dict[JointEnd, Vector]:
    """The place of every joint's end that the edits set, each edit changed by what ``changes`` has for its place."""
    known: dict[str, dict[str, Vector]] = {}
    ends: dict[JointEnd, Vector] = {}
    for edit in edits:
        own = known.setdefault(edit.part, {})
        own[edit.point] = edit.changed(changes.get(edit.place, 0.0), own)
        ends |= dict.fromkeys(edit.ends, own[edit.point])
    return ends


def _towards(start: Vector, end: Vector, length: float) -> Vector:
    """The point ``length`` mm from ``start`` on the line to ``end``; ``start`` where there is no line."""
    whole = dist(start, end)
    share = length / whole if whole else 0.0
    x, y, z = (a + (b - a) * share for a, b in zip(start, end, strict=True))
    return x, y, z
