"""The search for a pair's least clearance: cells that may still hold it, and two bounds that close in.

For every cell and every setting in it

    distance >= distance at the centre - displacement - residual - surface error of both - query tolerance - rounding

(``lower_bound``); ``facing`` gives a second bound, the sharper one where parts move along their gap. The lowest bound
of all leaves is the proven clearance. Cells with too low a bound are cut into thirds until it is high enough for the
question.

A pair is searched piece by piece, a shape of the one part against a shape of the other: most pieces are far
apart at once, and near ones travel less than their whole parts do.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import partial

import numpy as np
from numpy.typing import NDArray

from assembly.clearance.narrow_phase.bounding_balls import Side, box_gaps, boxes, slab_gaps
from assembly.clearance.narrow_phase.checked_pairs import CheckedPair
from assembly.clearance.narrow_phase.distance import QUERY_TOLERANCE
from assembly.clearance.narrow_phase.queries import Job
from assembly.clearance.proof.cells import Cells
from assembly.clearance.proof.facing import Directions, facing_bounds
from assembly.clearance.proof.lower_bound import (
    Bounds,
    Method,
    RelativePlaces,
    lower_bound,
    no_bounds,
    rounding_in,
)
from assembly.clearance.proof.product_cells import ProductCell
from assembly.clearance.proof.refiner import Children, Tiling
from assembly.geometry.mesh import Floats, Ids
from assembly.geometry.rotations import inverse_rigid
from assembly.kinematics.cell_bounds import BodiesMotion
from assembly.kinematics.mechanism import Submechanism
from assembly.kinematics.roll_columns import as_wide, shifts_of_rolls
from assembly.kinematics.travel import Displacement, displacement, travel_by_drive

UNKNOWN = np.array([np.nan, 0.0, 0.0, 0.0])
"""Distance and direction where nothing was measured."""
PLACE_DIGITS = 9
"""Decimals to which two places count as one; how far they are apart all the same is taken off the distance."""


@dataclass(slots=True, eq=False)
class PairSearch:
    """State of one pair's search: ``least``, the smallest distance found, and the setting (d,) that shows it.

    Settings are those of the ``reduced`` machine.
    """

    pair: CheckedPair
    a: Side
    b: Side
    reduced: Submechanism
    """The machine in which it is searched: bodies, drives and rolls are numbered as there."""
    rolls: tuple[int, ...] = ()
    """Idle rolls that move the two against each other: settings have columns for them after the drives."""
    carriers: tuple[int, ...] = ()
    """Bodies of the two, and those that joints put between them."""
    least: float = np.inf
    least_at: Floats | None = None
    contained: bool = False
    """One part lies inside the other without touching it."""
    pieces: tuple[PieceSearch, ...] = ()
    """Together all of both parts: at first the parts as wholes, then shape by shape."""
    opened: bool = False

    @property
    def surface_error(self) -> float:
        """How far both true surfaces together may stand off their facets, mm."""
        return self.a.surface_error + self.b.surface_error

    @property
    def apart(self) -> bool:
        """Whether all that is proven is proven of the cells of either part alone."""
        return any(piece.product is not None for piece in self.pieces)

    @property
    def proven(self) -> float:
        """No setting of the proven cells brings the pair nearer than this, mm; may be below zero."""
        return min(piece.proven for piece in self.pieces) if self.pieces else -np.inf

    def found_in(self, cells: Cells, distances: Floats, ids: Ids) -> None:
        """Note distances (N,) measured at the centres of ``cells`` that the ends of rods allow."""
        distances = np.where(cells.centre_allowed(ids), distances, np.inf)
        row = int(np.argmin(distances))
        if distances[row] < self.least:
            of = cells.mechanism
            self.found(float(distances[row]), as_wide(of.rolls, self.rolls, cells.settings[ids[row]]))

    def found(self, distance: float, setting: Floats) -> None:
        """Note a distance measured at ``setting`` (d,)."""
        if distance < self.least:
            self.least, self.least_at = distance, setting.copy()


@dataclass(slots=True, eq=False)
class PieceSearch:
    """State of the search of one piece against another; what it finds is reported to its pair."""

    search: PairSearch
    a: Side
    b: Side
    rolls: tuple[int, ...] = ()
    """Those of the pair's that move this piece."""
    tiling: Tiling[Bounds] = field(default_factory=lambda: Tiling(np.zeros(0, dtype=np.intp), no_bounds(0)))
    """Cells that together cover the proven range, and each one's bound with its terms; always changed as one, so that
    a run that is stopped at any moment still covers all."""
    known: dict[int, Floats] = field(default_factory=dict)
    """Distance, and direction from a to b as a sees it (4,), at each cell centre measured so far, by its number in
    ``Cells.centre_of``."""
    product: ProductCell | None = None
    """The one cell that the tiling consists of, standing for all, as long as there are none over the drives of both."""

    @property
    def proven(self) -> float:
        """The lowest bound of the leaves."""
        return float(self.tiling.figures.lower.min(initial=np.inf))

    @property
    def surface_error(self) -> float:
        """How far both true surfaces together may stand off their facets, mm."""
        return self.a.surface_error + self.b.surface_error

    @property
    def facing(self) -> tuple[tuple[Side, Side], tuple[int, ...]]:
        """Both sides, and the bodies that may carry a slab between them."""
        return (self.a, self.b), self.search.carriers

    @property
    def bodies(self) -> tuple[int, int]:
        """The bodies of both."""
        return self.a.body, self.b.body

    @property
    def errors(self) -> float:
        """What is taken off each measured distance besides travel, mm."""
        return self.surface_error + QUERY_TOLERANCE

    def raise_bounds(self, rows: Ids, bounds: Bounds) -> None:
        """Take the higher of two bounds at ``rows`` of the tiling."""
        self.tiling = Tiling(self.tiling.ids, self.tiling.figures.raised(rows, bounds))

    def look(self, cells: Cells, children: Children[Bounds], wanted: Floats | float) -> PieceLook:
        """Bounds for new cells that need no query, and the query for those that do; ``wanted``: one, or of each."""
        wanted = np.broadcast_to(wanted, len(children.ids))
        target = float(wanted.min(initial=np.inf))
        ids, parents, inherited = children.ids, children.parents, children.inherited
        found = self.found_at(cells, ids)
        low = np.flatnonzero(inherited.lower < wanted)
        directions = Directions(parents[low], self.found_at(cells, parents[low])[:, 1:])
        bounds = inherited.raised(low, facing_bounds(*self.facing, cells, ids[low], directions, target))
        low = low[bounds.lower[low] < wanted[low]]
        motion = cells.motion_of(ids[low], self.bodies)
        far, rounding = self.displacement(motion), self.rounding(motion)
        world_from_a, world_from_b = (motion.world_from_rest(body) for body in self.bodies)
        gaps = box_gaps(boxes(self.a.outline, world_from_a), boxes(self.b.outline, world_from_b))
        bounds = bounds.raised(low, lower_bound(Method.BOXES, gaps, far, self.surface_error, rounding))
        ask = np.flatnonzero((bounds.lower[low] < wanted[low]) & np.isnan(found[low, 0]) & motion.motion.certified)
        a_from_b = inverse_rigid(world_from_a[ask]) @ world_from_b[ask]
        first, alike = self._alike(a_from_b)
        apart = RelativePlaces(self.a.outline, self.b.outline, a_from_b).moved(np.arange(len(ask)), first[alike])
        job = Job(self.a.solid, self.b.solid, a_from_b[first])
        return PieceLook(
            self, cells, ids, wanted, bounds, low, far, rounding, found, low[ask], first, alike, apart, job
        )

    def _alike(self, a_from_b: Floats) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Of places (N, 4, 4) one of each lot that are alike, and for each place the lot that it belongs to."""
        near = a_from_b.copy()
        near[:, :3, 3] += a_from_b[:, :3, :3] @ self.b.hull.middle - self.a.hull.middle
        _, first, alike = np.unique(near.round(PLACE_DIGITS), axis=0, return_index=True, return_inverse=True)
        return first, alike.reshape(-1)

    def found_at(self, cells: Cells, ids: Ids) -> Floats:
        """Distance and direction (N, 4) at the centres of cells; nan and no direction where not measured."""
        return np.array([self.known.get(centre, UNKNOWN) for centre in cells.centre_of[ids].tolist()]).reshape(-1, 4)

    def lowest(self, target: float, cells: Cells, smallest: float, at_once: int) -> NDArray[np.intp]:
        """Rows of the ``at_once`` lowest leaves below ``target`` that are wider than ``smallest`` (share)."""
        lower = self.tiling.figures.lower
        low = np.flatnonzero((lower < target) & cells.may_be_cut(self.tiling.ids, smallest))
        return low[np.argsort(lower[low], kind="stable")[:at_once]]

    def axes(self, cells: Cells, ids: Ids) -> Ids:
        """The drive (N,) along which to cut each cell: the one that moves the two against each other most.

        A drive that shifts the rolls that the ends of a rod allow counts as if it rolled the rod as far: it is what
        tells which part of a cell is allowed, though it may move nothing itself.
        """
        motion, half = cells.motion_of(ids, self.bodies), cells.half[ids]
        a, b = (motion.number(body) for body in self.bodies)
        moved = np.minimum(
            travel_by_drive(motion.motion, a, b, self.a.outline.points, motion.rest),
            travel_by_drive(motion.motion, b, a, self.b.outline.points, motion.rest),
        )
        for roll, shift in shifts_of_rolls(cells.mechanism, partial(cells.motion_of, ids)):
            moved = moved + shift * (moved[:, roll] / np.maximum(half[:, roll], 1e-12))[:, None]
        wanted = np.asarray(np.argmax(moved + 1e-9 * half / cells.span, axis=1), dtype=np.intp)
        return cells.axes_to_cut(ids, wanted)

    def at_any_roll(self) -> PieceSearch | None:
        """The piece as what its two sides fill at any of its rolls, which moves as the drives do; none if not known."""
        a, b = self.a.at_any_roll(self.rolls), self.b.at_any_roll(self.rolls)
        return None if a is None or b is None else PieceSearch(self.search, a, b)

    def boxed(self, motion: BodiesMotion) -> Bounds:
        """Bounds (N,) mm from boxes round both sides at the cells' centres, or from a slab between them."""
        a, b = self.a.outline, self.b.outline
        place_a, place_b = (motion.world_from_rest(body) for body in self.bodies)
        gaps = np.maximum(box_gaps(boxes(a, place_a), boxes(b, place_b)), slab_gaps(a, b, (place_a, place_b)))
        far, rounding = self.displacement(motion), self.rounding(motion)
        return lower_bound(Method.BOXES, gaps, far, self.surface_error, rounding)

    def displacement(self, motion: BodiesMotion) -> Displacement:
        """The smaller of how far a can move seen from b, and b seen from a (N,) mm, in each cell."""
        (a, b), first, second = (motion.number(body) for body in self.bodies), self.a.outline, self.b.outline
        a_seen = displacement(motion.motion, a, b, first.points, first.radii, motion.rest)
        b_seen = displacement(motion.motion, b, a, second.points, second.radii, motion.rest)
        return a_seen.least(b_seen)

    def rounding(self, motion: BodiesMotion) -> Floats:
        """How far (N,) mm double precision can shift the two against each other at the cells' centres."""
        return rounding_in((self.a, self.b), motion)


@dataclass(frozen=True, slots=True, eq=False)
class PieceLook:
    """A look of one piece at some cells: what is known before, and the job that measures the rest."""

    piece: PieceSearch
    cells: Cells
    ids: Ids
    wanted: Floats
    bounds: Bounds
    low: NDArray[np.intp]
    """Rows whose bound did not reach the target, for which these are known:"""
    far: Displacement
    rounding: Floats
    found: Floats
    """Distance and direction (N, 4) as far as known."""
    unknown: NDArray[np.intp]
    first: NDArray[np.intp]
    alike: NDArray[np.intp]
    apart: Floats
    """Cells in which the two stand alike are measured once: at these of the unknown ones. Which place of the job
    holds for each unknown cell, and how far (mm) any point is from where it is there."""
    job: Job

    def figures(self, looked: Floats) -> Bounds:
        """The bounds sharpened by what was measured (n, 4), which the piece and its pair note."""
        piece, cells, found = self.piece, self.cells, self.found.copy()
        found[self.unknown] = looked[self.alike]
        found[self.unknown, 0] -= self.apart
        piece.known.update(zip(cells.centre_of[self.ids[self.unknown]].tolist(), found[self.unknown], strict=True))
        if len(self.unknown):
            piece.search.found_in(cells, looked[:, 0], self.ids[self.unknown[self.first]])
        distances = found[self.low, 0]
        measured = lower_bound(Method.CENTRE, distances, self.far, piece.surface_error, self.rounding)
        bounds = self.bounds.raised(self.low, measured)
        low = np.flatnonzero((bounds.lower < self.wanted) & ~np.isnan(found[:, 0]))
        directions, target = Directions(self.ids[low], found[low, 1:]), float(self.wanted.min(initial=np.inf))
        return bounds.raised(low, facing_bounds(*piece.facing, cells, self.ids[low], directions, target))
