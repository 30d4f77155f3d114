"""What the play of joints lets rows miss by: each joint's share as vectors of bounded length over its rows.

A joint with play holds its rows to within it: a pin's points lie within ``radial`` square to its line and ``axial``
along it, its lines lean by ``angle``. So a machine with play stands where J x + R(x) = w for some w in a product of
balls. Rows of a direction fixed in a body say so themselves; those of a point are along fixed axes, and the line of the
joint turns with its first part. A slide or cylindrical joint that leans is off its line by ``radial`` and what it leans
over how far it has slid, whichever of its parts is the sleeve.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from math import radians, sin

import numpy as np

from assembly.geometry.mesh import Floats, Ids
from assembly.geometry.rotations import across, unit
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rows import Offset, Posture, Reach, SamePoint, Square
from assembly.kinematics.system import Family
from assembly.model.joint_play import JointPlay
from assembly.model.machine import Joint, JointKind


@dataclass(frozen=True, slots=True, eq=False)
class LooseVector:
    """One vector of misses, no longer than ``length``, of the ``rows`` (m,) of one ``joint``, mm.

    ``axes`` (m, 3): the rows are along these axes of the world, and the vector is spanned by the unit vectors
    ``directions`` (k, 3) of the first ``body``, as drawn; without, it is spanned by the rows themselves. ``turns``:
    whether it depends on how that body stands. ``slides``: rows of which one point slides past the other, by ``lean``
    times which it may be longer.
    """

    joint: str
    rows: Ids
    length: float
    body: int
    axes: Floats | None = None
    directions: Floats | None = None
    turns: bool = False
    slides: tuple[Offset, int] | None = None
    lean: float = 0.0
    ends: tuple[float, float] | None = None
    """Of a vector of one direction: the least and the most along it, where these are not the same either way."""

    @property
    def columns(self) -> int:
        """How many directions span it."""
        return len(self.rows if self.directions is None else self.directions)

    def lengths(self, posture: Posture, reach: Reach) -> Floats:
        """How long (N,) mm it is where bodies get as far as ``reach`` from postures."""
        if self.slides is None:
            return np.full(len(posture), self.length)
        rows, row = self.slides
        return np.asarray(self.length + self.lean * rows.farthest(posture, reach)[:, row])

    def over_rows(self, posture: Posture) -> Floats:
        """Its directions (N, m, k) as misses of its rows."""
        if self.axes is None or self.directions is None:
            return np.broadcast_to(np.eye(self.columns), (len(posture), self.columns, self.columns))
        return np.asarray(self.axes @ posture.rotations[:, self.body] @ self.directions.T)


@dataclass(frozen=True, eq=False)
class LooseRows:
    """Every vector of misses that the play of a machine's joints allows; ``groups`` (rows,): the group of each row."""

    vectors: tuple[LooseVector, ...]
    groups: Ids

    @cached_property
    def starts(self) -> Ids:
        """The first column (v,) of each vector."""
        return np.cumsum([0, *(one.columns for one in self.vectors[:-1])]).astype(np.intp)

    @cached_property
    def owners(self) -> tuple[str, ...]:
        """The joint of each vector."""
        return tuple(one.joint for one in self.vectors)

    def columns(self, posture: Posture, reach: Reach) -> Floats:
        """The vectors' directions times their lengths (N, rows, k) as misses of all rows, mm."""
        made = np.zeros((len(posture), len(self.groups), sum(one.columns for one in self.vectors)))
        for one, start in zip(self.vectors, self.starts.tolist(), strict=True):
            own = one.over_rows(posture) * one.lengths(posture, reach)[:, None, None]
            made[:, one.rows, start : start + one.columns] = own
        return made

    def bounds(self, posture: Posture, reach: Reach) -> Floats:
        """What each group of rows (N, g) misses by at most, mm."""
        squares = np.zeros((len(posture), int(self.groups.max()) + 1))
        for one in self.vectors:
            squares[:, self.groups[one.rows[0]]] += one.lengths(posture, reach) ** 2
        return np.asarray(np.sqrt(squares))

    def turned(self, reach: Reach) -> Floats:
        """By how much the groups' misses (N, g) mm may be others than at the postures, where bodies turn by ``reach``.

        What is within w of a line that turns by θ is within θ |w| of the same miss of the line as it was.
        """
        whole = np.zeros((len(reach.turn), int(self.groups.max()) + 1))
        for one in self.vectors:
            if one.turns:
                whole[:, self.groups[one.rows[0]]] += one.length * reach.turn[:, one.body]
        return whole


def loose_rows(mechanism: Mechanism) -> LooseRows | None:
    """The vectors of all joints with play; None where no joint has any."""
    found: list[LooseVector] = []
    start = 0
    for family in mechanism.equations.families:
        found += _of_family(mechanism, family, start)
        start += len(family)
    return LooseRows(tuple(found), mechanism.equations.groups) if found else None


def _of_family(mechanism: Mechanism, family: Family, start: int) -> Iterator[LooseVector]:
    """The vectors of one family, whose rows are numbered from ``start``; rows of drives hold exactly."""
    if not isinstance(family.rows, SamePoint | Offset | Square):
        return
    numbers = np.array(family.groups or range(len(family)))
    for group in dict.fromkeys(numbers.tolist()):
        own = np.flatnonzero(numbers == group)
        joint = mechanism.machine.joints[family.owners[own[0]]]
        if joint.play is not None and not family.ratios[own].any():
            for one in _of_group(joint, joint.play, (family.rows, own), start):
                if one.length or one.lean:
                    yield one


def _of_group(
    joint: Joint, play: JointPlay, group: tuple[SamePoint | Offset | Square, Ids], start: int
) -> Iterator[LooseVector]:
    """The vectors of one group of rows of a joint with play."""
    rows, own = group
    body, axial, leans = int(rows.first[own[0]]), max(map(abs, play.axial)), sin(radians(play.angle))
    if isinstance(rows, Square):
        yield LooseVector(joint.name, start + own, rows.scale * leans, body)
    elif isinstance(rows, SamePoint) and joint.kind is JointKind.PIN:
        along = unit(joint.along)  # type: ignore[arg-type]  # a pin always has it (reader)
        square = np.array(across(along))
        yield LooseVector(joint.name, start + own, play.radial, body, rows.axis[own], square, turns=True)
        # Rows of a point say where the first part's is against the second's.
        ends = -play.axial[1], -play.axial[0]
        yield LooseVector(joint.name, start + own, axial, body, rows.axis[own], along[None], turns=True, ends=ends)
    elif isinstance(rows, SamePoint) or (joint.kind is JointKind.PIN and len(own) > 1):
        yield LooseVector(joint.name, start + own, play.radial, body)
    elif joint.kind is JointKind.PIN:
        along_it = rows.direction[own[0]] @ unit(joint.along) > 0  # type: ignore[arg-type]  # as above
        ends = play.axial if along_it else (-play.axial[1], -play.axial[0])
        yield LooseVector(joint.name, start + own, axial, body, ends=ends)
    else:
        yield LooseVector(joint.name, start + own, play.radial, body, slides=(rows, int(own[0])), lean=leans)
