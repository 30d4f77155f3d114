"""Proof that a stop is struck at every setting of the other drives, between the looked-at ones too.

At the centre of a cell a point of the stop lies inside the other part, so deep that it cannot come out of it anywhere
in the cell. Where the shape that it lies in is convex, every plane round that is looked at by itself, so that a point
that slides along a face counts as deep all the way. What cannot be shown so is cut; what is left at the smallest size
is not proven.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull

from assembly.clearance.distance import Probe, nearest
from assembly.clearance.outcome import Setting
from assembly.clearance.pairs import Solid, Trim, trimmed
from assembly.geometry.inside import contains
from assembly.geometry.mesh import Floats, Mesh
from assembly.geometry.rotations import across, inverse_rigid
from assembly.geometry.shapes import sphere
from assembly.geometry.solids import volume
from assembly.model.machine import Machine
from assembly.model.stops import STOP_FACET_ERROR
from assembly.model.travel_stop import Pad, TravelStop
from assembly.motion.approach import cloud_of, least_along
from assembly.motion.cell_motion import CellMotion, bound_motion
from assembly.motion.mechanism import Mechanism
from assembly.motion.solver import solve
from assembly.motion.travel import travel

FIRST_CELLS = 8
"""Along each other drive."""
SMALLEST_CUT = 2.0**-8
"""Share of a drive's range below which no cell is cut."""
RINGS, SPOKES = (0.35, 0.7, 0.98), 16
"""Where on the stop's end points are tried: shares of its half-width, and directions."""
DEPTHS = (0.004, 0.05, 0.5, 2.0, 8.0)
"""mm below the stop's end."""
PRESSED = 0.02
"""mm by which a stop is pressed where it is shown to be struck."""
INSET = 0.004
"""mm by which known places are drawn into the stop."""
GRAIN = 1e-3
"""mm: the probe that stands for a point, and what every proof of depth must keep."""
CONVEX = 1e-6
"""Share by which the volume of a convex shape may differ from its hull's."""

Flags = NDArray[np.bool_]
Ids = NDArray[np.intp]


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


@dataclass(frozen=True, slots=True, eq=False)
class _Pick:
    """For each of N cells the point of the stop that lies deepest in a shape, and how deep at the centre, mm.

    ``depth`` is below 0 where none lies inside.
    """

    point: Ids
    depth: Floats


def press_needed(machine: Machine, stop: TravelStop) -> float:
    """By how many mm a stop must be pressed for the proof to show it.

    A little; and where a shape that it meets is not convex, as much more as that stands off its facets.
    """
    shapes = machine.parts[stop.other].shapes
    return PRESSED + max((one.mesh.surface_error for one in shapes if _planes_round(one.mesh) is None), default=0.0)


class _Proof:
    def __init__(self, mechanism: Mechanism, stop: TravelStop, points: Floats) -> None:
        self.mechanism, self.stop, self.points = mechanism, stop, points
        self.solid = trimmed(mechanism.machine.parts[stop.other], Trim(stop.other))
        pieces = self.solid.pieces()
        planes = [_planes_round(piece.mesh) for piece in pieces]
        self.convex = [(sides, piece.mesh) for sides, piece in zip(planes, pieces, strict=True) if sides is not None]
        self.others = [Probe(piece) for sides, piece in zip(planes, pieces, strict=True) if sides is None]
        grain = sphere((0.0, 0.0, 0.0), 2 * GRAIN, facet_error=GRAIN)
        self.grain = Probe(Solid(grain, ("grain",), (0,), (grain,)))
        self.carrier, self.meets = (mechanism.bodies.body_of[part] for part in (stop.carrier, stop.other))

    def struck(self, centres: Floats, half: Floats) -> Flags:
        """In which cells (N,) a point of the stop is proven to stay inside the other part."""
        solved = solve(self.mechanism, centres)
        motion = bound_motion(self.mechanism, solved, half)
        places = [self.mechanism.world_from_rest(solved.posture, part) for part in (self.stop.carrier, self.stop.other)]
        other_from_stop = inverse_rigid(places[1]) @ places[0]
        points = np.einsum("nij,kj->nki", other_from_stop[:, :3, :3], self.points) + other_from_stop[:, None, :3, 3]
        found, sure = np.zeros(len(centres), dtype=bool), solved.reached & motion.certified
        for planes, _ in self.convex:
            left = np.flatnonzero(sure & ~found)
            depths = -(points[left] @ planes[:, :3].T + planes[:, 3]).max(axis=2)
            pick = _Pick(depths.argmax(axis=1), depths.max(axis=1))
            found[left] = self._stays(motion.take(left), pick, planes)
        for probe in self.others:
            left = np.flatnonzero(sure & ~found)
            pick = self._deepest(probe, points[left])
            found[left] = self._stays(motion.take(left), pick, None)
        return found

    def _stays(self, motion: CellMotion, pick: _Pick, planes: Floats | None) -> Flags:
        """Whether (N,) the picked points stay inside a shape, by its ``planes`` where it is convex."""
        found, centres = np.zeros(len(pick.depth), dtype=bool), self.mechanism.bodies.centres
        for point in np.unique(pick.point[pick.depth > GRAIN]):
            rows = np.flatnonzero((pick.point == point) & (pick.depth > GRAIN))
            own, cells = self.points[point][None], motion.take(rows)
            gone = travel(cells, self.carrier, self.meets, own, np.zeros(1), centres)
            found[rows] = gone < pick.depth[rows] - GRAIN
            open_ = np.flatnonzero(~found[rows])
            if planes is not None and len(open_):
                found[rows[open_]] = self._behind_all(cells.take(open_), own, planes, gone[open_])
        return found

    def _behind_all(self, motion: CellMotion, point: Floats, planes: Floats, gone: Floats) -> Flags:
        """Whether (N,) a point of the stop stays behind each of ``planes`` (F, 4) that it can reach, ``gone`` (N,)."""
        places = self.mechanism.world_from_rest(motion.posture, self.stop.other)
        own = self.mechanism.world_from_rest(motion.posture, self.stop.carrier)
        world = own[:, :3, :3] @ point[0] + own[:, :3, 3]
        inside, cloud = np.ones(len(motion), dtype=bool), cloud_of(point)
        for plane in planes:
            normals = places[:, :3, :3] @ plane[:3]
            level = np.einsum("ni,ni->n", normals, places[:, :3, 3]) - plane[3]
            near = np.flatnonzero(inside & (level - np.einsum("ni,ni->n", normals, world) <= gone + GRAIN))
            if len(near):
                cells, centres = motion.take(near), self.mechanism.bodies.centres
                highest = -least_along(cells, self.carrier, self.meets, cloud, -normals[near], centres)
                inside[near] = highest < level[near] - GRAIN
        return inside

    def _deepest(self, probe: Probe, points: Floats) -> _Pick:
        """The picks in a shape that is not convex, by its surface; ``points`` (N, K, 3) as that sees them."""
        pick = _Pick(np.zeros(len(points), dtype=np.intp), np.full(len(points), -np.inf))
        place, still = np.eye(4), np.eye(4)
        for row, own in enumerate(points):
            for index in np.flatnonzero(contains(probe.solid.mesh, own)):
                place[:3, 3] = own[index]
                depth = nearest(self.grain, probe, place, still).distance - probe.solid.mesh.surface_error
                if depth > pick.depth[row]:
                    pick.point[row], pick.depth[row] = index, depth
        return pick


def _planes_round(mesh: Mesh) -> Floats | None:
    """The planes (F, 4) round a convex shape, normals outward; None where it is not convex."""
    hull = ConvexHull(mesh.vertices)
    if abs(hull.volume - volume(mesh)) > CONVEX * hull.volume:
        return None
    return np.unique(hull.equations.round(9), axis=0)


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
