"""What a sweep works on: every solid numbered, whole and in pieces, and the boxes that each can fill."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from assembly.clearance.narrow_phase.bounding_balls import (
    BoundingBalls,
    Side,
    box_gaps,
    boxes,
    hull_corners,
    outline_round,
    outline_turned,
)
from assembly.clearance.narrow_phase.checked_pairs import CheckedPair, Exclusion, Pairs, Solid
from assembly.clearance.proof.lower_bound import Bounds, Method, lower_bound, no_bounds, rounding_of
from assembly.clearance.proof.pair_search import PairSearch, PieceSearch
from assembly.clearance.proof.product_cells import OwnCells, SweptSide
from assembly.geometry.mesh import Floats
from assembly.kinematics.approach import cloud_of
from assembly.kinematics.bodies import GROUND, Chains
from assembly.kinematics.cell_motion import CellMotion
from assembly.kinematics.mechanism import Mechanism, Submechanism
from assembly.kinematics.reduced import submechanism, unreduced
from assembly.kinematics.roll_columns import moved_by_rolls, roll_line
from assembly.kinematics.rows import Posture
from assembly.kinematics.travel import STILL, Displacement, displacement
from assembly.time_limit import check_time

BOXES_AT_ONCE = 100_000
"""Boxes that are held against each other at once; keeps the working memory near 20 MB."""


class SolidTable:
    """Solids by number: each part as pairs see it, then its shapes one by one; made ready as pairs are added.

    ``searches`` are those of the pairs added so far: in ``mechanism``, or where it is to be ``split`` in what is left
    of it when it is reduced to the groups of each pair.
    """

    def __init__(self, mechanism: Mechanism, solids: Mapping[Exclusion, Solid], *, split: bool = False) -> None:
        self.solids: list[Solid] = []
        self.searches: list[PairSearch] = []
        self._body_of, self.source = mechanism.bodies.body_of, solids
        self._wholes: dict[Exclusion, Side] = {}
        self._pieces: dict[int, tuple[Side, ...]] = {}
        self._chains = Chains(mechanism.machine, mechanism.bodies)
        self._mechanism, self._split = mechanism, split
        self._reduced: dict[tuple[Side, Submechanism], Side] = {}
        """Sides as numbered in reduced machines."""
        self._whole_of: dict[Side, tuple[Side, Submechanism]] = {}

    def add(self, pairs: Iterable[CheckedPair]) -> list[PairSearch]:
        """Searches for more pairs."""
        more = [self._search(pair) for pair in pairs]
        self.searches += more
        return more

    @property
    def numbers(self) -> dict[Exclusion, int]:
        """The number of each part as pairs see it."""
        return {exclusion: side.solid for exclusion, side in self._wholes.items()}

    def _search(self, pair: CheckedPair) -> PairSearch:
        a, b = self.whole(pair.trim_a), self.whole(pair.trim_b)
        whole = self._mechanism
        reduced = submechanism(whole, a.body, b.body) if self._split else unreduced(whole)
        carriers = tuple(map(reduced.body, self._chains.between(a.body, b.body)))
        a, b = self._within(a, reduced), self._within(b, reduced)
        return PairSearch(pair, a, b, reduced, self.rolls_between(a, b), carriers)

    def _within(self, side: Side, reduced: Submechanism) -> Side:
        """A side of the whole machine as numbered in the ``reduced`` one."""
        if reduced.mechanism is self._mechanism:
            return side
        if (side, reduced) not in self._reduced:
            rolls = frozenset(map(reduced.roll, side.rolls))
            own = replace(side, body=reduced.body(side.body), rolls=rolls)
            self._reduced[side, reduced], self._whole_of[own] = own, (side, reduced)
        return self._reduced[side, reduced]

    def rolls_between(self, a: Side, b: Side) -> tuple[int, ...]:
        """Numbers of the idle rolls that move two solids against each other: those of one that leave the other."""
        idle = self._whole_of[a][1].mechanism.idle if a in self._whole_of else self._mechanism.idle
        of_a = {number for number in a.rolls if b.body not in idle[number].bodies}
        of_b = {number for number in b.rolls if a.body not in idle[number].bodies}
        return tuple(sorted(of_a | of_b))

    def whole(self, exclusion: Exclusion) -> Side:
        """A part as pairs see it, numbered as in the whole machine."""
        if exclusion not in self._wholes:
            solid, number = self.source[exclusion], len(self.solids)
            self.solids.append(solid)
            self._wholes[exclusion] = self._side(number, exclusion.part, solid)
        return self._wholes[exclusion]

    def pieces(self, whole: Side) -> tuple[Side, ...]:
        """The shapes of a part as its pair sees it, made when first asked for; a part of one shape is its own piece."""
        if whole in self._whole_of:
            side, reduced = self._whole_of[whole]
            return tuple(self._within(piece, reduced) for piece in self.pieces(side))
        solid = self.solids[whole.solid]
        if len(solid.shapes) == 1:
            return (whole,)
        if whole.solid not in self._pieces:
            check_time()
            first, shapes = len(self.solids), solid.pieces()
            self.solids += shapes
            numbered = enumerate(shapes, first)
            self._pieces[whole.solid] = tuple(self._side(k, whole.part, shape) for k, shape in numbered)
        return self._pieces[whole.solid]

    def _side(self, number: int, part: str, solid: Solid) -> Side:
        body, corners = self._body_of[part], hull_corners(solid.mesh)
        lines = solid.round_about or (None,)
        rolls = frozenset().union(*(moved_by_rolls(self._mechanism, body, line, corners) for line in lines))
        hull, error = cloud_of(corners), solid.mesh.surface_error
        turned = None
        if len(rolls) == 1:
            turned = outline_turned(corners, *roll_line(self._mechanism, body, self._mechanism.idle[min(rolls)]))
        return Side(number, part, body, outline_round(corners), hull, error, rolls, turned)


def stock_of(mechanism: Mechanism, pairs: Pairs) -> SolidTable:
    """Everything that ``pairs`` need, shape by shape."""
    solid_table = SolidTable(mechanism, pairs.solids)
    for search in solid_table.add(pairs.checked):
        solid_table.pieces(search.a)
        solid_table.pieces(search.b)
    return solid_table


class Boxes:
    """Boxes (N, 2, 3) mm round solids at N postures, each made when it is first asked for."""

    def __init__(self, mechanism: Mechanism, posture: Posture) -> None:
        self._mechanism, self.posture = mechanism, posture
        self._made: dict[BoundingBalls, Floats] = {}

    @property
    def count(self) -> int:
        """Of how many postures."""
        return len(self.posture)

    def of(self, side: Side) -> Floats:
        """The box of one solid."""
        if side.outline not in self._made:
            check_time()
            place = self._mechanism.world_from_rest(self.posture, side.part)
            self._made[side.outline] = boxes(side.outline, place)
        return self._made[side.outline]

    def gaps(self, piece: PieceSearch) -> Floats:
        """Distance (N,) mm between the boxes of a piece's two sides."""
        return box_gaps(self.of(piece.a), self.of(piece.b))

    def every_gap(self, pieces: Sequence[PieceSearch]) -> Floats:
        """The same (P, N) of many pieces, whose boxes are held against each other together."""
        gaps = np.zeros((len(pieces), self.count))
        at_once = max(1, BOXES_AT_ONCE // max(1, self.count))
        for start in range(0, len(pieces), at_once):
            some = pieces[start : start + at_once]
            first, second = (
                [self.of(side) for side in sides] for sides in zip(*((p.a, p.b) for p in some), strict=True)
            )
            found = box_gaps(np.concatenate(first), np.concatenate(second))
            gaps[start : start + len(some)] = found.reshape(len(some), self.count)
        return gaps


class SweptBoxes:
    """Boxes round all the space that solids can take in N cells; settles far pieces at once."""

    def __init__(self, mechanism: Mechanism, motion: CellMotion) -> None:
        self._mechanism, self._motion = mechanism, motion
        self._still = Boxes(mechanism, motion.posture)
        self._far: dict[BoundingBalls, Displacement] = {}
        self._swept: dict[BoundingBalls, Floats] = {}
        self._rounding: dict[BoundingBalls, Floats] = {}

    def _body(self, side: Side) -> int:
        """The number of its body here; sides may be numbered as in a machine of more bodies."""
        return self._mechanism.bodies.body_of[side.part]

    def displacement(self, side: Side) -> Displacement:
        """How far (N,) mm any point of a solid can go from where it is at the centre."""
        outline = side.outline
        if outline not in self._far:
            check_time()
            centres = self._mechanism.bodies.centres
            far = displacement(self._motion, self._body(side), GROUND, outline.points, outline.radii, centres)
            self._far[outline] = far
        return self._far[outline]

    def rounding(self, piece: PieceSearch) -> Floats:
        """How far (N,) mm double precision can shift a piece's two sides against each other at the centres."""
        return np.maximum(self._rounding_of(piece.a), self._rounding_of(piece.b))

    def _rounding_of(self, side: Side) -> Floats:
        if side.outline not in self._rounding:
            body = self._body(side)
            self._rounding[side.outline] = rounding_of(
                side, self._motion.posture.centres[:, body], self._mechanism.bodies.centres[body]
            )
        return self._rounding[side.outline]

    def _box(self, side: Side) -> Floats:
        """The box (N, 2, 3) mm round all the space that a solid can take in each cell."""
        if side.outline not in self._swept:
            widened = self.displacement(side).whole[:, None, None] * np.array([[-1.0], [1.0]])
            self._swept[side.outline] = self._still.of(side) + widened
        return self._swept[side.outline]

    def swept(self, side: Side, own: OwnCells) -> SweptSide:
        """One solid in these boxes, which are those of the roots of its ``own`` cells."""
        return SweptSide(side, own, self._box(side), self._rounding_of(side))

    def bounds(self, pieces: Sequence[PieceSearch]) -> list[Bounds]:
        """Bounds (N,) mm on each piece's clearance anywhere in the cells, at any of its rolls, from boxes alone."""
        count = len(self._motion)
        found = [no_bounds(count)] * len(pieces)
        filled = [(row, of) for row, piece in enumerate(pieces) if (of := piece.at_any_roll()) is not None]
        at_once = max(1, BOXES_AT_ONCE // max(1, count))
        for some in (filled[start : start + at_once] for start in range(0, len(filled), at_once)):
            first, second = (
                np.concatenate(own) for own in zip(*((self._box(of.a), self._box(of.b)) for _, of in some), strict=True)
            )
            rounding = np.concatenate([self.rounding(of) for _, of in some])
            errors = np.repeat([of.surface_error for _, of in some], count)
            bounds = lower_bound(Method.SWEPT_BOXES, box_gaps(first, second), STILL, errors, rounding)
            for number, (row, _) in enumerate(some):
                found[row] = bounds.part(number * count, (number + 1) * count)
        return found
