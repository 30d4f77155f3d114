"""Proof that a stop is struck at every setting of the other drives, between the looked-at ones too.

At the centre of a cell a point of the stop lies inside the other part, so deep that it cannot come out of it anywhere
in the cell. What cannot be shown so is cut; what is left at the smallest size is not proven.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assembly.clearance.distance import Probe, nearest
from assembly.clearance.outcome import Setting
from assembly.clearance.pairs import Solid, Trim, trimmed
from assembly.geometry.inside import contains
from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import across, inverse_rigid
from assembly.geometry.shapes import sphere
from assembly.model.stops import STOP_FACET_ERROR
from assembly.model.travel_stop import Pad, TravelStop
from assembly.motion.cell_motion import bound_motion
from assembly.motion.mechanism import Mechanism
from assembly.motion.solver import solve
from assembly.motion.travel import travel

FIRST_CELLS = 8
"""Along each other drive."""
SMALLEST_CUT = 2.0**-7
"""Share of a drive's range below which no cell is cut."""
RINGS, SPOKES = (0.35, 0.7, 0.98), 16
"""Where on the stop's end points are tried: shares of its half-width, and directions."""
DEPTHS = (0.05, 0.5, 2.0, 8.0)
"""mm below the stop's end."""
INSET = 0.02
"""mm by which known places are drawn into the stop."""
GRAIN = 1e-3
"""mm: the probe that stands for a point."""


@dataclass(frozen=True, slots=True)
class StruckProof:
    """Whether the stop is proven to be struck by ``at`` of its drive, wherever the others stand.

    Where it is not, ``gap`` names a setting at which that was not shown.
    """

    proven: bool
    at: float
    cells: int
    gap: Setting | None = None


def prove_struck(mechanism: Mechanism, stop: TravelStop, height: float, at: float, places: Floats) -> StruckProof:
    """Whether ``stop`` of ``height`` is struck once its drive stands ``at``, the others anywhere in their ranges.

    ``places`` (K, 3): where it is known to be struck, on the stop drawn at rest.
    """
    proof = _Proof(mechanism, stop, _inner_points(stop, height, places))
    drives = mechanism.machine.drives
    column = list(drives).index(stop.drive)
    low, high = np.array([d.low for d in drives.values()]), np.array([d.high for d in drives.values()])
    low[column] = high[column] = at
    counts = [1 if k == column else FIRST_CELLS for k in range(len(drives))]
    steps = np.meshgrid(*((np.arange(count) + 0.5) / count for count in counts), indexing="ij")
    centres = low + np.stack(steps, axis=-1).reshape(-1, len(drives)) * (high - low)
    half = np.broadcast_to((high - low) / np.array(counts) / 2, centres.shape).copy()
    cells = 0
    while len(centres):
        cells += len(centres)
        open_ = np.flatnonzero(~proof.struck(centres, half))
        if not len(open_):
            break
        centres, half = centres[open_], half[open_]
        share = (2 * half / np.maximum(high - low, 1e-12)).max(axis=1)
        if share.max() <= SMALLEST_CUT or not half.any():
            return StruckProof(False, at, cells, tuple(centres[int(np.argmin(share))].tolist()))
        axis = np.argmax(half / np.maximum(high - low, 1e-12), axis=1)
        rows = np.arange(len(half))
        half[rows, axis] /= 2
        away = np.zeros_like(half)
        away[rows, axis] = half[rows, axis]
        centres, half = np.concatenate([centres - away, centres + away]), np.concatenate([half, half])
    return StruckProof(True, at, cells)


class _Proof:
    def __init__(self, mechanism: Mechanism, stop: TravelStop, points: Floats) -> None:
        self.mechanism, self.stop, self.points = mechanism, stop, points
        self.solid = trimmed(mechanism.machine.parts[stop.other], Trim(stop.other))
        self.other = Probe(self.solid)
        grain = sphere((0.0, 0.0, 0.0), 2 * GRAIN, facet_error=GRAIN)
        self.grain = Probe(Solid(grain, ("grain",), (0,), (grain,)))
        self.carrier, self.meets = (mechanism.bodies.body_of[part] for part in (stop.carrier, stop.other))

    def struck(self, centres: Floats, half: Floats) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        """In which cells (N,) a point of the stop is proven to stay inside the other part."""
        solved = solve(self.mechanism, centres)
        motion = bound_motion(self.mechanism, solved, half)
        places = [self.mechanism.world_from_rest(solved.posture, part) for part in (self.stop.carrier, self.stop.other)]
        other_from_stop = inverse_rigid(places[1]) @ places[0]
        deepest, depths = np.zeros(len(centres), dtype=np.intp), np.full(len(centres), -np.inf)
        for row in np.flatnonzero(solved.reached & motion.certified):
            deepest[row], depths[row] = self._deepest(other_from_stop[row])
        found = np.zeros(len(centres), dtype=bool)
        for point in np.unique(deepest[np.isfinite(depths)]):
            rows = np.flatnonzero((deepest == point) & np.isfinite(depths))
            own, centres_at_rest = self.points[point][None], self.mechanism.bodies.centres
            gone = travel(motion.take(rows), self.carrier, self.meets, own, np.zeros(1), centres_at_rest)
            found[rows] = gone < depths[rows] - self.solid.mesh.surface_error - GRAIN
        return found

    def _deepest(self, other_from_stop: Floats) -> tuple[int, float]:
        """The point of the stop that lies deepest inside the other part, and how deep in mm."""
        points = self.points @ other_from_stop[:3, :3].T + other_from_stop[:3, 3]
        inside = np.flatnonzero(contains(self.solid.mesh, points))
        best, depth = 0, -np.inf
        place, still = np.eye(4), np.eye(4)
        for index in inside:
            place[:3, 3] = points[index]
            found = nearest(self.grain, self.other, place, still).distance
            if found > depth:
                best, depth = int(index), found
        return best, depth


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
