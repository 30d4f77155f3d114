"""What a sweep works on: every solid numbered, whole and in pieces, and the boxes that each can fill."""

from __future__ import annotations

import numpy as np

from assembly.clearance.cells import Cells, Ids
from assembly.clearance.outline import Side, box_gaps, boxes, hull_corners, outline_round
from assembly.clearance.pairs import Pairs, Solid
from assembly.clearance.search import PairSearch, PieceSearch
from assembly.geometry.mesh import Floats
from assembly.motion.approach import cloud_of
from assembly.motion.bodies import GROUND, chains
from assembly.motion.mechanism import Mechanism
from assembly.motion.travel import travel


class Stock:
    """Solids by number: first each part as its pairs see it, then its shapes one by one.

    ``pieces_of`` gives the pieces of a whole solid by its number; a part of one shape is its own piece.
    """

    def __init__(self, mechanism: Mechanism, pairs: Pairs) -> None:
        trims = list(pairs.solids)
        self.solids: list[Solid] = [pairs.solids[trim] for trim in trims]
        wholes = {}
        self.pieces_of: list[tuple[Side, ...]] = []
        for number, trim in enumerate(trims):
            solid = self.solids[number]
            wholes[trim] = _side(number, trim.part, mechanism.bodies.body_of[trim.part], solid)
            self.pieces_of.append(self._pieces(wholes[trim], solid))
        between = chains(mechanism.machine, mechanism.bodies)
        self.searches = []
        for pair in pairs.checked:
            a, b = wholes[pair.trim_a], wholes[pair.trim_b]
            self.searches.append(PairSearch(pair, a, b, between.get((a.body, b.body), (a.body, b.body))))

    def _pieces(self, whole: Side, solid: Solid) -> tuple[Side, ...]:
        if len(solid.shapes) == 1:
            return (whole,)
        pieces = []
        for piece in solid.pieces():
            pieces.append(_side(len(self.solids), whole.part, whole.body, piece))
            self.solids.append(piece)
        return tuple(pieces)


def _side(number: int, part: str, body: int, solid: Solid) -> Side:
    corners = hull_corners(solid.mesh)
    return Side(number, part, body, outline_round(corners), cloud_of(corners), solid.mesh.surface_error)


class SweptBoxes:
    """For every solid a box (N, 2, 3) round all the room it can take in each root cell; settles far pieces at once."""

    def __init__(self, cells: Cells, roots: Ids) -> None:
        self._motion, self._mechanism = cells.motion.take(roots), cells.mechanism
        self._boxes: dict[int, Floats] = {}

    def gaps(self, piece: PieceSearch) -> Floats:
        """Bounds (N,) mm on the piece's clearance in each root cell, from boxes alone."""
        return box_gaps(self._box(piece.a), self._box(piece.b)) - piece.errors

    def _box(self, side: Side) -> Floats:
        if side.solid not in self._boxes:
            motion, outline = self._motion, side.outline
            far = travel(motion, side.body, GROUND, outline.points, outline.radii, self._mechanism.bodies.centres)
            still = boxes(outline, self._mechanism.world_from_rest(motion.posture, side.part))
            self._boxes[side.solid] = still + far[:, None, None] * np.array([[-1.0], [1.0]])
        return self._boxes[side.solid]
