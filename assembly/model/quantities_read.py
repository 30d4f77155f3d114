"""Numbers, points and directions of a mechanism file as values; what is faulty is noted and becomes NaN.

Whoever needs several values reads them all, so that every fault is noted, and then asks the log whether
one was lost on the way.
"""

from __future__ import annotations

import math
from collections import ChainMap
from collections.abc import Mapping, MutableMapping, Sequence
from dataclasses import dataclass, field, replace
from typing import cast

from assembly.errors import InputError
from assembly.geometry.shapes.checks import FARTHEST, LEAST_SIZE
from assembly.model.arithmetic import evaluate, names_in, unknown_dimension
from assembly.model.fault_list import FaultLog, shown
from assembly.model.machine import Vector
from assembly.model.positions import Place

LOST: Vector = (math.nan, math.nan, math.nan)
"""Stands for a point or direction that a fault took away."""

Given = float | str


@dataclass(frozen=True, slots=True)
class FileNumbers:
    """Numbers of one file. ``dimensions`` gives None for a dimension whose own fault is noted already.

    ``tolerances`` are those that dimensions have.
    """

    log: FaultLog
    dimensions: Mapping[str, float | None]
    tolerances: Mapping[str, float] = field(default_factory=dict)

    def number(self, given: Given, place: Place) -> float:
        """The number itself, or the value of its arithmetic; NaN where that is faulty."""
        if not isinstance(given, str):
            return given
        try:
            used = sorted(names_in(given))
            for name in used:
                if name not in self.dimensions:
                    raise InputError(unknown_dimension(name, () if self.log.is_full else self.dimensions))
            values = {name: value for name in used if (value := self.dimensions[name]) is not None}
            if len(values) == len(used):
                return evaluate(given, values)
            self.log.pass_over()
        except InputError as error:
            self.log.add_fault(place, error.faults[0])
        return math.nan

    def size(self, given: Given, place: Place) -> float:
        """A length in mm that a workshop can make."""
        number = self.number(given, place)
        if not math.isnan(number) and not LEAST_SIZE <= number <= FARTHEST:
            self.log.add(place, f"{_told(given, number)} is not a size", f"give {LEAST_SIZE:g} to {FARTHEST:g} mm")
        return number

    def amount(self, given: Given, place: Place) -> float:
        """A length in mm that may be zero."""
        number = self.number(given, place)
        if not math.isnan(number) and not 0 <= number <= FARTHEST:
            self.log.add(place, f"{_told(given, number)} mm is out of bounds", f"give 0 to {FARTHEST:g} mm")
        return number

    def coordinate(self, given: Given, place: Place) -> float:
        """One coordinate in mm, or another number that may be negative: an angle in degrees, a ratio."""
        number = self.number(given, place)
        if abs(number) > FARTHEST:
            hint = f"give -{FARTHEST:g} to {FARTHEST:g}"
            self.log.add(place, f"{_told(given, number)} is beyond all bounds", hint)
        return number

    def vector(self, given: Sequence[Given], place: Place) -> Vector:
        """Three coordinates in mm, or angles in degrees."""
        x, y, z = (self.coordinate(each, (*place, k)) for k, each in enumerate(given))
        return x, y, z


def _told(given: Given, number: float) -> str:
    """A number as written, with its value where it was arithmetic."""
    return f"{shown(given)} = {number:g}" if isinstance(given, str) else f"{number:g}"


@dataclass(frozen=True, slots=True)
class Points:
    """Points by name: the file's, or a part's own over the file's. None where a point's fault is noted already."""

    figures: FileNumbers
    known: Mapping[str, Vector | None]

    def with_own(self, *own: Mapping[str, Vector | None]) -> Points:
        """The same points with a part's ``own`` copies in front: a view, for a copy for every part takes too long."""
        asked = cast("list[MutableMapping[str, Vector | None]]", [*filter(None, own), self.known])
        return self if len(asked) == 1 else replace(self, known=ChainMap(*asked))

    def point(self, given: str | Sequence[Given], place: Place) -> Vector:
        """The place in mm of a named point or of coordinates; LOST where that is faulty."""
        if not isinstance(given, str):
            return self.figures.vector(given, place)
        log = self.figures.log
        if given not in self.known:
            log.add(place, f"unknown point {shown(given)}", log.nearest(given, self.known, "points"))
            return LOST
        found = self.known[given]
        if found is None:
            log.pass_over()
        return found or LOST

    def direction(self, given: Sequence[Given], place: Place) -> Vector:
        """The unit vector of three numbers, or from the first of two named points to the second."""
        if len(given) == 2:
            start, end = (self.point(str(name), (*place, k)) for k, name in enumerate(given))
            arrow = [b - a for a, b in zip(start, end, strict=True)]
            least, cause = LEAST_SIZE, f"{shown(given[0])} and {shown(given[1])} are the same place"
        else:
            arrow = [self.figures.number(each, (*place, k)) for k, each in enumerate(given)]
            least, cause = 0.0, "all three numbers are 0"
        largest = max(map(abs, arrow))
        length = math.hypot(*(each / largest for each in arrow)) * largest if largest > 0 else largest
        if length <= least:
            self.figures.log.add(place, f"the direction has no length: {cause}", "a direction must lead somewhere")
        if math.isnan(length) or length <= least:
            return LOST
        x, y, z = (each / largest / (length / largest) for each in arrow)
        return x, y, z
