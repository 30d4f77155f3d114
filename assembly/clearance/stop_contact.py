"""Proof that a stop is struck at every setting of the other drives, between the looked-at ones too.

In every cell a point of the stop is shown to stay inside the part that strikes it (``enclosure``). What cannot be shown
so is cut; what is left at the smallest size is not proven. A cell at whose centre the two are apart ends the search at
once, for there the drive goes on, and so does one at whose very centre it cannot be shown, for no cut would help.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembly.clearance.enclosure import Enclosure
from assembly.clearance.outcome import Setting
from assembly.clearance.pairs import Trim, trimmed
from assembly.clearance.stop_gap import StopGap
from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import across
from assembly.model.stops import STOP_FACET_ERROR
from assembly.model.travel_stop import Pad, TravelStop
from assembly.motion.approach import cloud_of
from assembly.motion.cell_motion import bound_motion
from assembly.motion.mechanism import Mechanism, Solved
from assembly.motion.solver import solve

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

Flags = NDArray[np.bool_]


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
    proof = _Proof(mechanism, stop, height, _inner_points(stop, height, places))
    drives = mechanism.machine.drives
    column = list(drives).index(stop.drive)
    low, high = np.array([d.low for d in drives.values()]), np.array([d.high for d in drives.values()])
    moving = mechanism.system.drives_between(*(mechanism.bodies.body_of[part] for part in (stop.carrier, stop.other)))
    low, high = np.where(moving, low, 0.0), np.where(moving, high, 0.0)
    low[column] = high[column] = at
    width = np.maximum(high - low, 1e-12)
    centres, half = _first_cells(low, high)
    cells = 0
    while len(centres):
        cells += len(centres)
        solved = solve(mechanism, centres)
        open_ = np.flatnonzero(~proof.struck(solved, half))
        centres, half, solved = centres[open_], half[open_], solved.take(open_)
        if not len(open_):
            break
        missed = proof.missed(solved)
        if missed is not None:
            return StruckProof(False, at, cells, tuple(centres[missed].tolist()), missed=True)
        hopeless = np.flatnonzero(~proof.struck(solved, np.zeros_like(half)))
        if len(hopeless):
            return StruckProof(False, at, cells, tuple(centres[hopeless[0]].tolist()))
        share = (2 * half / width).max(axis=1)
        if share.max() <= SMALLEST_CUT or cells + 2 * len(open_) > MOST_CELLS:
            return StruckProof(False, at, cells, tuple(centres[int(np.argmin(share))].tolist()))
        centres, half = _halved(centres, half, width)
    return StruckProof(True, at, cells)


def _first_cells(low: Floats, high: Floats) -> tuple[Floats, Floats]:
    """Centres and half-widths (N, d) of an even lattice; a drive that stands still has one cell, of no width."""
    counts = [FIRST_CELLS if wide else 1 for wide in (high > low).tolist()]
    steps = np.meshgrid(*((np.arange(count) + 0.5) / count for count in counts), indexing="ij")
    centres = low + np.stack(steps, axis=-1).reshape(-1, len(low)) * (high - low)
    return centres, np.broadcast_to((high - low) / np.array(counts) / 2, centres.shape).copy()


def _halved(centres: Floats, half: Floats, width: Floats) -> tuple[Floats, Floats]:
    """Both halves of each cell, cut across the drive of which it has the largest share of the range."""
    axis, rows = np.argmax(half / width, axis=1), np.arange(len(half))
    half[rows, axis] /= 2
    away = np.zeros_like(half)
    away[rows, axis] = half[rows, axis]
    return np.concatenate([centres - away, centres + away]), np.concatenate([half, half])


class _Proof:
    def __init__(self, mechanism: Mechanism, stop: TravelStop, height: float, points: Floats) -> None:
        self.mechanism, self.height = mechanism, height
        self.parts, self.cloud = (stop.carrier, stop.other), cloud_of(points)
        self.gap = StopGap(mechanism, stop)
        struck = trimmed(mechanism.machine.parts[stop.other], Trim(stop.other))
        self.pieces = [Enclosure(piece.mesh) for piece in struck.pieces()]

    def struck(self, solved: Solved, half: Floats) -> Flags:
        """In which cells (N,) a point of the stop is proven to stay inside the other part."""
        motion = bound_motion(self.mechanism, solved, half)
        found = np.zeros(len(half), dtype=bool)
        for piece in self.pieces:
            left = np.flatnonzero(~found)
            found[left] = piece.holds_one(self.mechanism, motion.take(left), self.parts, self.cloud)
        return found

    def missed(self, solved: Solved) -> int | None:
        """The first of N settings at which the stop is apart from the other part, whatever the surfaces' errors."""
        apart = (row for row in range(len(solved.settings)) if self.gap.is_apart(self.height, solved, row))
        return next(apart, None)


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
