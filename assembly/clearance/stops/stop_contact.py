"""Proof that a stop is struck at every setting of the other drives, between the looked-at ones too.

In every cell a point of the stop is shown to stay inside the part that strikes it (``enclosure``). What cannot be shown
so is cut; what is left at the smallest size is not proven. A cell at whose centre the two are apart ends the search at
once, for there the drive goes on, and so does one at whose very centre it cannot be shown, for no cut would help.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assembly.clearance.narrow_phase.checked_pairs import Exclusion, without_exclusion
from assembly.clearance.narrow_phase.pair_result import Setting
from assembly.clearance.proof.cells import Cells, even_lattice, lattice_cells
from assembly.clearance.proof.refiner import Children, Tiling, refine
from assembly.clearance.stops.enclosure import Enclosure
from assembly.clearance.stops.stop_gap import StopGap
from assembly.geometry.mesh import Flags, Floats, Ids
from assembly.geometry.rotations import across
from assembly.kinematics.approach import cloud_of
from assembly.kinematics.cell_motion import CellMotion, bound_motion
from assembly.kinematics.mechanism import Mechanism
from assembly.model.stop_solids import STOP_FACET_ERROR
from assembly.model.travel_stop import Pad, TravelStop

FIRST_CELLS = 8
"""Along each other drive."""
SMALLEST_CUT = 2.0**-10
"""Share of a drive's range below which no cell is cut."""
MOST_CELLS = 6000
RINGS, SPOKES = (0.35, 0.7, 0.98), 16
"""Where on the stop's end points are tried: shares of its half-width, and directions."""
DEPTHS = (0.004, 0.05, 0.5, 2.0, 8.0)
"""mm below the stop's end."""
INSET = 0.004
"""mm by which known places are drawn into the stop."""


@dataclass(frozen=True, slots=True)
class StruckProof:
    """Whether the stop is proven to be struck by ``at`` of its drive, wherever the others stand.

    Where it is not, ``gap`` names a setting at which that was not shown; ``missed``: there the two are apart, so the
    drive goes past ``at``.
    """

    proven: bool
    at: float
    cells: int
    gap: Setting | None = None
    missed: bool = False


def prove_struck(mechanism: Mechanism, stop: TravelStop, height: float, at: float, places: Floats) -> StruckProof:
    """Whether ``stop`` of ``height`` is struck once its drive stands ``at``, the others anywhere in their ranges.

    ``mechanism`` is without the stop. ``places`` (K, 3): where it is known to be struck, on the stop drawn at rest.
    Drives that do not move carrier and other part against each other stand at rest: what is proven holds anywhere.
    """
    drives = mechanism.machine.drives
    low, high = np.array([d.low for d in drives.values()]), np.array([d.high for d in drives.values()])
    own = np.arange(len(drives)) == list(drives).index(stop.drive)
    bodies = (mechanism.bodies.body_of[part] for part in (stop.carrier, stop.other))
    cut, rest = mechanism.system.drives_between(*bodies) & ~own, np.where(own, at, 0.0)
    width, counts = np.where(cut, high - low, 0.0), np.where(cut, FIRST_CELLS, 1)
    cells = lattice_cells(mechanism, *even_lattice(np.where(cut, low, rest), width, counts), parts=2)
    contact = _Contact(mechanism, stop, height, _inner_points(stop, height, places))
    struck = _Struck(cells, contact, Tiling(cells.first, contact.figures(cells, cells.first)))
    refine([struck])
    ids, figures = struck.tiling.ids, struck.tiling.figures
    shares = cells.share_of_range(ids)
    for open_ in (figures.missed, figures.hopeless, ~figures.struck):
        if open_.any():
            worst = ids[np.where(open_, shares, np.inf).argmin()]
            return StruckProof(
                False, at, len(cells), tuple(cells.motion.settings[worst].tolist()), bool(figures.missed.any())
            )
    return StruckProof(True, at, len(cells))


@dataclass(frozen=True, slots=True, eq=False)
class _Figures:
    """Of N cells: whether a point of the stop is proven to stay inside the other part.

    Where not, whether the two are ``missed``, apart at the very centre, and whether it is ``hopeless``: no point can be
    shown to be inside at the centre, so that no cut would help.
    """

    struck: Flags
    missed: Flags
    hopeless: Flags


@dataclass(slots=True, eq=False)
class _Struck:
    """In which cells the stop is struck; cells where that is not shown are cut until one is seen where it is not."""

    cells: Cells
    contact: _Contact
    tiling: Tiling[_Figures]

    def to_cut(self) -> Ids:
        figures = self.tiling.figures
        rows = np.flatnonzero(~figures.struck)
        too_many = len(self.cells) + 2 * len(rows) > MOST_CELLS
        if too_many or figures.missed.any() or figures.hopeless.any():
            return rows[:0]
        return rows[self.cells.share_of_range(self.tiling.ids[rows]) > SMALLEST_CUT]

    def axes(self, rows: Ids) -> Ids:
        """The drive of which each cell has the largest share of the range."""
        return np.asarray(np.argmax(self.cells.motion.half[self.tiling.ids[rows]] / self.cells.span, axis=1))

    def bounded(self, children: Children[_Figures]) -> _Figures:
        return self.contact.figures(self.cells, children.ids)


class _Contact:
    """The end of a stop and the part that strikes it, made ready to be looked at."""

    def __init__(self, mechanism: Mechanism, stop: TravelStop, height: float, points: Floats) -> None:
        self.mechanism, self.height = mechanism, height
        self.parts, self.cloud = (stop.carrier, stop.other), cloud_of(points)
        self.gap = StopGap(mechanism, stop)
        struck = without_exclusion(mechanism.machine.parts[stop.other], Exclusion(stop.other))
        self.pieces = [Enclosure(piece.mesh) for piece in struck.pieces()]

    def figures(self, cells: Cells, ids: Ids) -> _Figures:
        """What is shown of cells, at one look at each; nothing more is looked at once one is found to be missed."""
        struck = self._struck(cells.motion.take(ids))
        missed, hopeless = np.zeros(len(ids), dtype=bool), np.zeros(len(ids), dtype=bool)
        open_ = np.flatnonzero(~struck)
        solved = cells.solved(ids[open_])
        apart = (row for row in range(len(open_)) if self.gap.is_apart(self.height, solved, row))
        first = next(apart, None)
        if first is not None:
            missed[open_[first]] = True
        elif len(open_):
            still = bound_motion(self.mechanism, solved, np.zeros_like(solved.settings))
            hopeless[open_] = ~self._struck(still)
        return _Figures(struck, missed, hopeless)

    def _struck(self, motion: CellMotion) -> Flags:
        """In which cells (N,) a point of the stop is proven to stay inside the other part."""
        found = np.zeros(len(motion), dtype=bool)
        for piece in self.pieces:
            left = np.flatnonzero(~found)
            found[left] = piece.holds_one(self.mechanism, motion.take(left), self.parts, self.cloud)
        return found


def _inner_points(stop: TravelStop, height: float, places: Floats) -> Floats:
    """Points (K, 3) of the stop near its end and near ``places``, all inside it whatever its facets leave out."""
    reach = (stop.form.across if isinstance(stop.form, Pad) else stop.form.diameter) / 2 - 2 * STOP_FACET_ERROR
    along = np.array(stop.along)
    sides = across(along)
    turns = 2 * np.pi * np.arange(SPOKES) / SPOKES
    ring = np.outer(np.cos(turns), sides[0]) + np.outer(np.sin(turns), sides[1])
    flat = np.concatenate([np.zeros((1, 3)), *(share * reach * ring for share in RINGS)])
    depths = [depth for depth in DEPTHS if depth < height] or [height / 2]
    foot = np.array(stop.at)
    up = np.minimum((places - foot) @ along, height) - INSET
    out = places - foot - ((places - foot) @ along)[:, None] * along
    size = np.linalg.norm(out, axis=1, keepdims=True)
    struck = foot + up[:, None] * along + out * np.minimum(1.0, (reach - INSET) / np.maximum(size, 1e-9))
    return np.concatenate([struck, *(foot + (height - depth) * along + flat for depth in depths)])
