"""A pair of which rolls move a shape: what its shapes fill at any roll, and how far a roll can take their points."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assembly.clearance.narrow_phase.bounding_balls import Side, box_gaps, slab_gaps
from assembly.clearance.proof.pair_search import PairSearch
from assembly.clearance.proof.roll_fan import arm_of
from assembly.clearance.proof.solid_table import Boxes, SolidTable
from assembly.geometry.mesh import Floats
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.roll_columns import ROUND_WITHIN
from assembly.kinematics.rows import Posture


@dataclass(frozen=True, slots=True)
class RollTravel:
    """How far a roll takes the points of a side: ``reach`` mm by half a turn, and never more than ``most`` mm.

    ``column``: the roll's number among those of the pair. A side that is round about the line goes nowhere but for its
    facets, which stay near the one surface.
    """

    column: int
    reach: float
    most: float

    def of(self, rolled: Floats) -> Floats:
        """How far (N,) mm points go at most where the pair's rolls change by ``rolled`` (N, k) degrees.

        A point that turns about a line goes twice its distance times the sine of half the angle (closed form).
        """
        sine = np.abs(np.sin(np.deg2rad(rolled[:, self.column]) / 2))
        return np.minimum(np.where(sine > 0, np.maximum(sine, 1e-300) * self.reach, 0.0), self.most)


@dataclass(frozen=True, slots=True, eq=False)
class RolledSide:
    """A solid of a pair, ``filled``: as what it fills at any of the pair's rolls, none where that is not known.

    ``facets`` mm: how far the facets of a round side can stand off where they are with no roll.
    """

    side: Side
    filled: Side | None
    travels: tuple[RollTravel, ...]
    facets: float


@dataclass(frozen=True, slots=True, eq=False)
class RolledPair:
    """Both parts of a pair, whole and shape by shape."""

    whole: tuple[RolledSide, RolledSide]
    shapes: tuple[tuple[RolledSide, ...], tuple[RolledSide, ...]]

    def gaps(self, boxes: Boxes) -> Floats:
        """What (N,) mm boxes show that the two are apart at any roll at all at each of N postures; -inf for nothing."""
        first, second = self.whole
        if first.filled is None or second.filled is None:
            return np.full(boxes.count, -np.inf)
        return box_gaps(boxes.of(first.filled), boxes.of(second.filled)) - (first.facets + second.facets)

    def shape_gaps(self, boxes: Boxes) -> Floats:
        """The same (A, B, N) of every shape of the first part and every one of the second."""
        (first, second), count = self.shapes, boxes.count
        a, b = (np.array([_box(boxes, side) for side in sides]) for sides in (first, second))
        gaps = box_gaps(
            np.repeat(a[:, None], len(second), axis=1).reshape(-1, 2, 3),
            np.repeat(b[None], len(first), axis=0).reshape(-1, 2, 3),
        )
        return gaps.reshape(len(first), len(second), count)


def _box(boxes: Boxes, one: RolledSide) -> Floats:
    """The box (N, 2, 3) mm round all that a side fills at any roll; without end where that is not known."""
    if one.filled is None:
        return np.broadcast_to(np.array([[-np.inf] * 3, [np.inf] * 3]), (boxes.count, 2, 3))
    return boxes.of(one.filled) + one.facets * np.array([[-1.0], [1.0]])


def slab_between(mechanism: Mechanism, posture: Posture, first: RolledSide, second: RolledSide) -> Floats:
    """What (N,) mm planes show that two sides are apart at any roll at all; -inf for nothing."""
    if first.filled is None or second.filled is None:
        return np.full(len(posture), -np.inf)
    a, b = (mechanism.world_from_rest(posture, one.side.part) for one in (first, second))
    return slab_gaps(first.filled.outline, second.filled.outline, (a, b)) - (first.facets + second.facets)


def rolled_pair(mechanism: Mechanism, solid_table: SolidTable, search: PairSearch) -> RolledPair:
    """``search``'s pair with its shapes from ``solid_table``."""

    def made(side: Side) -> RolledSide:
        travels = _travels(mechanism, side, search.rolls)
        facets = sum(travel.most for travel in travels if np.isfinite(travel.most))
        return RolledSide(side, side.at_any_roll(search.rolls), travels, facets)

    a, b = (tuple(made(shape) for shape in solid_table.pieces(side)) for side in (search.a, search.b))
    return RolledPair((made(search.a), made(search.b)), (a, b))


def _travels(mechanism: Mechanism, side: Side, rolls: Sequence[int]) -> tuple[RollTravel, ...]:
    """For each of the pair's ``rolls`` that turns a side; of a side that two of them turn nothing is known."""
    own = [number for number in rolls if side.body in mechanism.idle[number].bodies]
    return tuple(
        RollTravel(
            rolls.index(number),
            2.0 * arm_of(mechanism, number, side) if len(own) == 1 else np.inf,
            np.inf if number in side.rolls else 2.0 * side.surface_error + ROUND_WITHIN,
        )
        for number in own
    )
