"""Whether a line may pass through three tyres or points: what makes the plane that they stand on the only one.

No line meets three convex bodies if each of them can be told apart by a plane from the other two together (Cappell,
Goodman, Pach, Pollack, Sharir, Wenger, "Common tangents and common transversals", Advances in Mathematics 106, 1994;
the reference is from memory). Then just one plane has all three on it and above it. A few planes are tried, so what is
told to be sure is sure, and what is not may still be so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from assembly.geometry.mesh import Flags, Floats
from assembly.geometry.rotations import cross, lengths
from assembly.kinematics.rows.base import dot
from assembly.kinematics.taylor import Taylor

ARC = np.pi / 2
"""No unit vector turns by more than this times how far its end moves."""


@dataclass(frozen=True, slots=True, eq=False)
class Ring:
    """A tyre of ring radius ``ring`` and crown radius ``crown`` about ``spin``; a point where that is None."""

    centre: Taylor
    spin: Taylor | None
    ring: float
    crown: float

    def extent(self, way: Floats) -> Floats:
        """How far (N,) it goes along ``way`` (N, 3), all through each cell, from where its centre is in the middle."""
        moved = lengths(self.centre.reach)
        if self.spin is None:
            return moved
        across = np.sqrt(np.maximum(1 - dot(self.spin.value, way) ** 2, 0.0))
        return np.asarray(self.ring * (across + ARC * lengths(self.spin.reach)) + self.crown + moved)


def no_line_through(rings: Sequence[Ring], normal: Floats) -> Flags:
    """Whether (N,) it is sure all through each cell that no line meets all three; ``normal`` (N, 3): about upward."""
    sure = np.ones(len(normal), dtype=bool)
    spins = [one.spin.value for one in rings if one.spin is not None]
    both = [a + sign * b for a, b in combinations(spins, 2) for sign in (-1.0, 1.0)]
    for number, one in enumerate(rings):
        first, second = (rings[(number + step) % 3] for step in (1, 2))
        square = cross(second.centre.value - first.centre.value, normal)
        ways = [_unit(way) for way in (square, *spins, *both)]
        sure &= np.any([_told_apart(one, (first, second), way) for way in ways], axis=0)
    return sure


def _told_apart(one: Ring, others: Sequence[Ring], way: Floats) -> Flags:
    """Whether (N,) a plane square to ``way`` has one body on its one side and the others on the other."""
    apart = [dot(way, one.centre.value - other.centre.value) for other in others]
    enough = [one.extent(way) + other.extent(way) for other in others]
    with np.errstate(invalid="ignore"):
        above = np.all([gap > need for gap, need in zip(apart, enough, strict=True)], axis=0)
        below = np.all([-gap > need for gap, need in zip(apart, enough, strict=True)], axis=0)
    return np.asarray(above | below)


def _unit(vectors: Floats) -> Floats:
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(vectors / lengths(vectors)[:, None])
