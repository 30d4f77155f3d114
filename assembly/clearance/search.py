"""The search for a pair's least clearance: cells that may still hold it, and two bounds that close in.

For every cell and every setting in it

    distance >= distance at the centre - travel - surface error of both - query tolerance,

where ``travel`` (motion.travel) already holds the solver's residual. The lowest bound of all leaves is the
proven clearance. Cells with too low a bound are cut into thirds until it is high enough for the question.

A pair is searched piece by piece, a shape of the one part against a shape of the other: most pieces are far
apart at once, and near ones travel less than their whole parts do.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from assembly.clearance.cells import Cells, Ids
from assembly.clearance.outline import Outline, box_gaps, boxes
from assembly.clearance.pairs import CheckedPair
from assembly.clearance.queries import Job
from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import inverse_rigid
from assembly.motion.travel import CellMotion, travel, travel_by_drive

TOLERANCE = 1e-6
"""mm taken off every measured distance: far above the error of FCL's mesh distance at machine sizes (1e-10)."""
PLACE_DIGITS = 9
"""Decimals to which two places count as one: moves a part of 1 m by less than the tolerance."""


@dataclass(frozen=True, slots=True, eq=False)
class Side:
    """A solid that is searched: its number on the bench, its part, its body and the balls that hold it."""

    solid: int
    part: str
    body: int
    outline: Outline
    surface_error: float


@dataclass(slots=True, eq=False)
class PairSearch:
    """State of one pair's search: ``least``, the smallest distance found, and the setting (d,) that shows it."""

    pair: CheckedPair
    a: Side
    b: Side
    least: float = np.inf
    least_at: Floats | None = None
    swallowed: bool = False
    """One part lies inside the other without touching it."""
    pieces: tuple[PieceSearch, ...] = ()
    """Together all of both parts: at first the parts as wholes, then shape by shape."""
    opened: bool = False

    @property
    def proven(self) -> float:
        """No setting of the proven cells brings the pair nearer than this, mm; may be below zero."""
        return min(piece.proven for piece in self.pieces) if self.pieces else -np.inf

    def found(self, distance: float, setting: Floats) -> None:
        """Take note of a distance measured at ``setting`` (d,)."""
        if distance < self.least:
            self.least, self.least_at = distance, setting.copy()


@dataclass(slots=True, eq=False)
class PieceSearch:
    """State of the search of one piece against another; what it finds is told to its pair."""

    search: PairSearch
    a: Side
    b: Side
    tiling: tuple[Ids, Floats] = field(default_factory=lambda: (np.zeros(0, dtype=np.intp), np.zeros(0)))
    """Cells that together cover the proven range, and each one's bound; always changed as one, so that a run
    that is stopped at any moment still covers all."""
    known: dict[int, float] = field(default_factory=dict)
    """Distance at each cell centre measured so far, by ``Cells.centre_of``."""

    @property
    def proven(self) -> float:
        """The lowest bound of the leaves."""
        return float(self.tiling[1].min(initial=np.inf))

    @property
    def surface_error(self) -> float:
        """How far both true surfaces together may stand off their facets, mm."""
        return self.a.surface_error + self.b.surface_error

    @property
    def errors(self) -> float:
        """What is taken off each measured distance besides travel, mm."""
        return self.surface_error + TOLERANCE

    def prepare(self, cells: Cells, ids: Ids, inherited: Floats, target: float) -> Visit:
        """Bounds for the cells ``ids`` that need no query, and the query for those that do."""
        bounds, far = inherited.copy(), np.full(len(ids), np.inf)
        measured = np.full(len(ids), np.nan)
        low = np.flatnonzero(bounds < target)
        motion = cells.motion.take(ids[low])
        far[low] = self.travel(motion, cells.mechanism.bodies.centres)
        world_from_a = cells.mechanism.world_from_rest(motion.posture, self.a.part)
        world_from_b = cells.mechanism.world_from_rest(motion.posture, self.b.part)
        gaps = box_gaps(boxes(self.a.outline, world_from_a), boxes(self.b.outline, world_from_b))
        bounds[low] = np.maximum(bounds[low], gaps - far[low] - self.errors)
        measured[low] = [self.known.get(int(centre), np.nan) for centre in cells.centre_of[ids[low]]]
        ask = np.flatnonzero((bounds[low] < target) & np.isnan(measured[low]) & motion.certified)
        a_from_b = inverse_rigid(world_from_a[ask]) @ world_from_b[ask]
        places, alike = np.unique(a_from_b.round(PLACE_DIGITS), axis=0, return_inverse=True)
        job = Job(self.a.solid, self.b.solid, places)
        return Visit(self, ids, bounds, far, measured, low[ask], alike.reshape(-1), job)

    def lowest(self, target: float, cells: Cells, smallest: float, at_once: int) -> NDArray[np.intp]:
        """Rows of the ``at_once`` lowest leaves below ``target`` that are wider than ``smallest`` (share)."""
        leaves, bounds = self.tiling
        low = np.flatnonzero((bounds < target) & (cells.share_of_range(leaves) > smallest))
        return low[np.argsort(bounds[low], kind="stable")[:at_once]]

    def axes(self, cells: Cells, ids: Ids) -> Ids:
        """The drive (N,) along which to cut each cell: the one that moves the two against each other most."""
        motion, centres = cells.motion.take(ids), cells.mechanism.bodies.centres
        moved = np.minimum(
            travel_by_drive(motion, self.a.body, self.b.body, self.a.outline.points, centres),
            travel_by_drive(motion, self.b.body, self.a.body, self.b.outline.points, centres),
        )
        return np.asarray(np.argmax(moved + 1e-9 * motion.half / cells.span, axis=1), dtype=np.intp)

    def travel(self, motion: CellMotion, centres: Floats) -> Floats:
        """The smaller of how far a can move seen from b, and b seen from a (N,) mm, in each cell."""
        a, b = self.a, self.b
        a_seen = travel(motion, a.body, b.body, a.outline.points, a.outline.radii, centres)
        b_seen = travel(motion, b.body, a.body, b.outline.points, b.outline.radii, centres)
        return np.minimum(a_seen, b_seen)


@dataclass(frozen=True, slots=True, eq=False)
class Visit:
    """A look of one piece at some cells: what is known before, and the job that measures the rest."""

    piece: PieceSearch
    ids: Ids
    bounds: Floats
    far: Floats
    measured: Floats
    unknown: NDArray[np.intp]
    alike: NDArray[np.intp]
    """Which place of the job holds for each unknown cell: cells in which the two stand alike are measured once."""
    job: Job

    def take_in(self, distances: Floats, cells: Cells, replaced: NDArray[np.intp]) -> None:
        """Sharpen the bounds by the measured distances; the cells take the place of the leaves ``replaced``."""
        piece, measured, bounds = self.piece, self.measured.copy(), self.bounds.copy()
        measured[self.unknown] = distances[self.alike]
        for row in self.unknown.tolist():
            piece.known[int(cells.centre_of[self.ids[row]])] = float(measured[row])
        if len(self.unknown):
            row = int(self.unknown[np.argmin(measured[self.unknown])])
            piece.search.found(float(measured[row]), cells.motion.settings[self.ids[row]])
        looked = np.flatnonzero(~np.isnan(measured))
        bounds[looked] = np.maximum(bounds[looked], measured[looked] - self.far[looked] - piece.errors)
        leaves, lower = (np.delete(array, replaced) for array in piece.tiling)
        piece.tiling = (np.concatenate([leaves, self.ids]), np.concatenate([lower, bounds]))
