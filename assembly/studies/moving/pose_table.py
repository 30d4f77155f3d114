"""Solved postures on a grid over the drives' ranges, so close that postures between them can be interpolated.

A view that moves the machine cannot solve it; it mixes the postures at the corners of the grid's cell. How far that is
from the truth is measured: at the centre of every cell the machine is solved, and the farthest that any point of any
part is away from its solved place is the table's error.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import product
from math import prod

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull, QhullError

from assembly.clearance.narrow_phase.bounding_balls import BoundingBalls, outline_round
from assembly.errors import TimeLimitError
from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import lengths
from assembly.geometry.turns import mixed, quaternions, rotations_of
from assembly.kinematics.array_stacks import crossings
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rows import Posture
from assembly.kinematics.solver import solve
from assembly.progress import Progress
from assembly.time_limit import check_time, extra_time, time_set_aside

WANTED_MM = 0.2
MOST_PLACES = 60_000
"""Places of bodies in a table, about 1.7 MB of numbers."""
THINNED = 4
"""Of so many points along a drive one is kept to see how bent the motion is; a table begins with as many cells."""
OFF_MIDDLE = 0.21
"""Share of a cell: mixed turns run ahead of the true ones here, and behind as far from the other end; a turn about one
line has no error at all in the middle, and its largest here (closed form)."""
AT_ONCE = 32
"""Settings whose error is worked out together, those first at which it may be largest."""
ROUNDING = 1e-9
"""mm of arithmetic in what is worked out of balls."""


@dataclass(frozen=True, slots=True, eq=False)
class PoseTable:
    """Postures at every point of a grid, the last drive quickest.

    ``axes``: the settings along each drive, in its unit, evenly spaced. ``centres`` (N, B, 3) mm and ``turns``
    (N, B, 4): where each body's reference point stands, and its ``world_from_rest`` as unit quaternion; of no meaning
    where not ``reached`` (N,). ``wanted_mm``: what its error was to stay below. ``error_mm``: the largest error of any
    point of any part inside any cell, at the setting ``error_at`` and of a part of ``error_body``; None if no cell
    has all its corners.
    """

    axes: tuple[Floats, ...]
    centres: Floats
    turns: Floats
    reached: NDArray[np.bool_]
    wanted_mm: float
    error_mm: float | None = None
    error_at: tuple[float, ...] = ()
    error_body: int = 0

    @property
    def counts(self) -> tuple[int, ...]:
        """Settings along each drive."""
        return tuple(len(axis) for axis in self.axes)

    def between(self, settings: Floats) -> tuple[Posture, NDArray[np.bool_]]:
        """Interpolated postures at ``settings`` (M, d), and whether all corners that each needs were reached.

        Reference points are mixed linearly along every drive, turns as quaternions, brought back to unit length.
        """
        rows, shares = self._corners(np.asarray(settings, dtype=np.float64).reshape(-1, len(self.axes)))
        used = shares > 0
        known = np.asarray((self.reached[rows] | ~used).all(axis=0))
        weights = np.broadcast_to(shares[:, :, None], (*shares.shape, self.centres.shape[1]))
        centres = (weights[..., None] * self.centres[rows]).sum(axis=0)
        return Posture(centres, rotations_of(mixed(self.turns[rows], weights))), known

    def _corners(self, settings: Floats) -> tuple[NDArray[np.intp], Floats]:
        """Rows (2^d, M) of the table at the corners round each setting, and the share of each."""
        low, share = [], []
        for axis, values in zip(self.axes, settings.T, strict=True):
            place = (values - axis[0]) / ((axis[-1] - axis[0]) or 1.0) * (len(axis) - 1)
            cell = np.clip(np.floor(place).astype(np.intp), 0, max(0, len(axis) - 2))
            low.append(cell)
            share.append(np.clip(place - cell, 0.0, 1.0))
        rows, shares = [], []
        for corner in product((0, 1), repeat=len(self.axes)):
            row, weight = np.zeros(len(settings), dtype=np.intp), np.ones(len(settings))
            for up, axis, cell, part in zip(corner, self.axes, low, share, strict=True):
                row = row * len(axis) + np.minimum(cell + up, len(axis) - 1)
                weight = weight * (part if up else 1.0 - part)
            rows.append(row)
            shares.append(weight)
        return np.array(rows), np.array(shares)


@dataclass(frozen=True, slots=True, eq=False)
class _Shape:
    """The ``corners`` (k, 3) mm of a body's hull, from its reference point, and a few balls that hold them."""

    corners: Floats
    balls: BoundingBalls


def pose_table(
    mechanism: Mechanism, progress: Progress, wanted_mm: float = WANTED_MM, most_places: int = MOST_PLACES
) -> PoseTable:
    """The table of ``mechanism``: cells are halved, drive by drive, until its error is below ``wanted_mm``.

    It is coarser where it would grow beyond ``most_places`` places of bodies, or the time is nearly over; ``error_mm``
    then says what it is. Raises TimeLimitError where there is none even for the coarsest.
    """
    shapes = [_shape(mechanism, body) for body in range(len(mechanism.bodies))]
    cells = [THINNED] * len(mechanism.machine.drives)
    progress("pose table", 0, 0)
    with extra_time():
        table = _measured(mechanism, _solved(mechanism, cells, wanted_mm), shapes)
    with suppress(TimeLimitError), time_set_aside(0.1, 1.5):
        while table.error_mm is not None and table.error_mm >= wanted_mm:
            cells = _halved(table, cells, shapes)
            if prod(count + 1 for count in cells) * len(mechanism.bodies) > most_places:
                break
            progress("pose table", 0, 0)
            table = _measured(mechanism, _solved(mechanism, cells, wanted_mm), shapes)
    return table


def _solved(mechanism: Mechanism, cells: list[int], wanted_mm: float) -> PoseTable:
    drives = mechanism.machine.drives.values()
    axes = tuple(np.linspace(drive.low, drive.high, n + 1) for drive, n in zip(drives, cells, strict=True))
    solved = solve(mechanism, _grid(axes))
    return PoseTable(axes, solved.posture.centres, quaternions(solved.posture.rotations), solved.reached, wanted_mm)


def _shape(mechanism: Mechanism, body: int) -> _Shape:
    """All parts of a body.

    The error of a point is a convex function of where it lies, so of all points a corner of the hull has the largest.
    """
    meshes = [mechanism.machine.parts[name].mesh for name in mechanism.bodies.members[body]]
    points: Floats = np.concatenate([mesh.vertices for mesh in meshes]) - mechanism.bodies.centres[body]
    with suppress(QhullError, ValueError):
        points = points[ConvexHull(points).vertices]
    return _Shape(points, outline_round(points))


def _measured(mechanism: Mechanism, table: PoseTable, shapes: Sequence[_Shape]) -> PoseTable:
    """The table with its error inside its cells."""
    settings = _inside(table.axes)
    guessed, known = table.between(settings)
    truth = solve(mechanism, settings)
    rows = np.flatnonzero(known & truth.reached)
    if not len(rows):
        return table
    error, row, body = _largest_error(guessed.take(rows), truth.posture.take(rows), shapes)
    at = tuple(settings[rows[row]].tolist())
    return replace(table, error_mm=error, error_at=at, error_body=body)


def _inside(axes: Sequence[Floats]) -> Floats:
    """Settings (M, d) at which the table is tried: the middle of every cell, and between it and each corner."""
    tried = [np.zeros((0, len(axes)))]
    for shares in (np.array([0.5]), np.array([OFF_MIDDLE, 1 - OFF_MIDDLE])):
        places = [(axis[:-1, None] + shares * (axis[1] - axis[0])).reshape(-1) for axis in axes]
        tried.append(_grid(places))
    return np.concatenate(tried)


def _grid(axes: Sequence[Floats]) -> Floats:
    """All settings (N, d) of ``axes``, the last quickest."""
    return crossings(axes)


def _largest_error(guessed: Posture, truth: Posture, shapes: Sequence[_Shape]) -> tuple[float, int, int]:
    """The farthest (mm) that a point of a body is from where it should be, at which of N postures, and which body.

    Postures are looked at corner by corner only where a few balls round the body do not rule them out: over a ball a
    difference of two turns moves points, beyond the middle, by no more than the radius times its spectral norm, which
    is its Frobenius norm less a factor of the root of 2 (closed form).
    """
    best = 0.0, 0, 0
    for body, shape in enumerate(shapes):
        shift = guessed.centres[:, body] - truth.centres[:, body]
        turn = guessed.rotations[:, body] - truth.rotations[:, body]
        balls = shape.balls
        spread = np.sqrt(np.einsum("nij,nij->n", turn, turn) / 2)[:, None] * balls.radii
        most = ROUNDING + (_away(balls.points, turn, shift) + spread).max(axis=1, initial=0.0)
        left = np.argsort(-most, kind="stable")
        while len(left := left[most[left] > best[0]]):
            check_time()
            some, left = np.sort(left[:AT_ONCE]), left[AT_ONCE:]
            errors = _away(shape.corners, turn[some], shift[some]).max(axis=1, initial=0.0)
            first = int(np.argmax(errors))
            if errors[first] > best[0]:
                best = float(errors[first]), int(some[first]), body
    return best


def _away(points: Floats, turn: Floats, shift: Floats) -> Floats:
    """How far (N, k) mm each of ``points`` (k, 3) is taken by ``turn`` (N, 3, 3) and ``shift`` (N, 3)."""
    return lengths(points @ turn.transpose(0, 2, 1) + shift[:, None])


def _halved(table: PoseTable, cells: list[int], shapes: Sequence[_Shape]) -> list[int]:
    """``cells`` with those halved that lie along the drive whose halving matters most.

    What a thinned table misses at the points left out along a drive tells how bent the motion is along it.
    """
    bent = [_bend(table, axis, shapes) for axis in range(len(cells))]
    worst = int(np.argmax(bent))
    return [2 * count if axis == worst else count for axis, count in enumerate(cells)]


def _bend(table: PoseTable, axis: int, shapes: Sequence[_Shape]) -> float:
    rows = np.moveaxis(np.arange(len(table.reached)).reshape(table.counts), axis, 0)
    first, last = (rows[start : len(rows) - THINNED + start : THINNED].reshape(-1) for start in (0, THINNED))
    worst = 0.0
    for step in range(1, THINNED):
        left_out = rows[step : len(rows) - THINNED + step : THINNED].reshape(-1)
        known = table.reached[first] & table.reached[left_out] & table.reached[last]
        ends, share = np.stack([first[known], last[known]]), step / THINNED
        weights = np.broadcast_to(np.array([1 - share, share])[:, None, None], (*ends.shape, len(shapes)))
        centres = (weights[..., None] * table.centres[ends]).sum(axis=0)
        guessed = Posture(centres, rotations_of(mixed(table.turns[ends], weights)))
        truth = Posture(table.centres[left_out[known]], rotations_of(table.turns[left_out[known]]))
        worst = max(worst, _largest_error(guessed, truth, shapes)[0])
    return worst
