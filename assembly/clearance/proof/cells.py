"""Cells of drive settings in one growing table: each knows how far every body moves in it.

A cell is cut in three along one drive (or in two); a middle child keeps the centre, so that every distance measured
there serves again. The centre of a child of a proven cell must stand where the proven one holds it; where it does not,
the child bounds nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np

from assembly.clearance.proof.cell_faces import SAME, holding
from assembly.geometry.mesh import Flags, Floats, Ids
from assembly.kinematics.array_stacks import Growing, crossings, stacked
from assembly.kinematics.cell_bounds import BodiesMotion
from assembly.kinematics.cell_motion import CellMotion, bound_motion
from assembly.kinematics.mechanism import Mechanism, Solved
from assembly.kinematics.solver import follow_or_restart, solve

THINNEST = 3.0**-14
"""Share of any drive's range below which cutting has gained nothing: whatever is still open stays so."""

Drives = tuple[int, ...]
"""Numbers of drives, lowest first."""


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """What is known of N cells besides the motion in them: whether it is proven, and how well centres are reached.

    ``settings`` and ``half`` (N, d) in drive units; ``centre_of``: the number under which distances at a cell's centre
    are known, its own or its ancestor's.
    """

    settings: Floats
    half: Floats
    certified: Flags
    reached: Flags
    share: Floats
    residual: Floats
    centre_of: Ids


@dataclass(frozen=True, slots=True, eq=False)
class BoundedColumns:
    """The columns of N cells with the bounds on the motion of all bodies in them."""

    columns: Columns
    motion: CellMotion


class Cells:
    """All cells made so far, by number; the first ones are numbered from 0 in their order.

    ``drives``: numbers of those that are cut; the cells have no width along the others. ``parts``: how many children
    a cell has. ``roots`` cover the first cells as far as the motion is proven, ``unresolved`` where it could not be.
    """

    def __init__(self, mechanism: Mechanism, drives: Drives, first: Any, parts: int = 3) -> None:
        self.mechanism, self.drives, self.parts = mechanism, drives, parts
        self.span = np.array([drive.high - drive.low for drive in mechanism.machine.drives.values()])
        self._table = Growing(first)
        """A stack with ``columns`` and more, which differs between cells of drives alone and those with rolls."""
        self.first: Ids = np.arange(len(self), dtype=np.intp)
        self.roots, self.unresolved = self.first, self.first[:0]
        self._children: dict[tuple[int, int], list[int]] = {}
        """The numbers of a cell's children along a drive."""

    def __len__(self) -> int:
        return len(self.centre_of)

    @property
    def motion(self) -> CellMotion:
        """The bounds of all cells, in the order of their numbers."""
        motion: CellMotion = self._table.rows.motion
        return motion

    def motion_of(self, ids: Ids, bodies: Iterable[int]) -> BodiesMotion:
        """The bounds in the cells ``ids`` (n,) of some bodies only, each once."""
        own = tuple(dict.fromkeys(bodies))
        return BodiesMotion(self.motion.of_bodies(ids, own), own, self.mechanism.bodies.centres[list(own)])

    def rotations_of(self, ids: Ids, body: int) -> Floats:
        """How a body is turned (n, 3, 3) at the centres of the cells ``ids``."""
        return np.asarray(self.motion.posture.rotations[ids, body])

    @property
    def _columns(self) -> Columns:
        columns: Columns = self._table.rows.columns
        return columns

    @property
    def settings(self) -> Floats:
        """The centres (N, d) of all cells."""
        return self._columns.settings

    @property
    def half(self) -> Floats:
        """Half of the widths (N, d) of all cells."""
        return self._columns.half

    @property
    def certified(self) -> Flags:
        """(N,) whether the motion is proven in each cell."""
        return self._columns.certified

    @property
    def reached(self) -> Flags:
        """(N,) whether each centre can be assembled."""
        return self._columns.reached

    @property
    def centre_of(self) -> Ids:
        """(N,) the number under which distances at a cell's centre are known."""
        return self._columns.centre_of

    def of_drives(self, ids: Ids) -> tuple[Cells, Ids]:
        """The cells of the drives alone that these are made of, and the numbers there of those ``ids`` (N,)."""
        return self, ids

    def some_allowed(self, ids: Ids) -> Flags:
        """Whether (N,) the ends of rods may allow some of the rolls in each cell."""
        return np.ones(len(ids), dtype=bool)

    def centre_allowed(self, ids: Ids) -> Flags:
        """Whether (N,) the ends of rods allow how they are rolled at the centre of each cell."""
        return np.ones(len(ids), dtype=bool)

    def too_wide(self, ids: Ids) -> Flags:
        """Whether (N,) each cell spans too much of a roll for bounds on the motion in it."""
        return np.zeros(len(ids), dtype=bool)

    def axes_to_cut(self, ids: Ids, wanted: Ids) -> Ids:  # noqa: ARG002  # which cells matters with rolls only
        """The columns (N,) along which to cut cells: as ``wanted`` (N,), but where others have to be cut first."""
        return wanted

    def solved(self, ids: Ids) -> Solved:
        """The postures at the centres of cells."""
        rows = self._columns
        posture = self.motion.posture.take(ids)
        return Solved(rows.settings[ids], posture, rows.reached[ids], rows.share[ids], rows.residual[ids])

    def share_of_range(self, ids: Ids) -> Floats:
        """Width (N,) of cells as a share of the drives' ranges, along the drive where it is largest."""
        return np.asarray((2 * self.half[ids] / self.span).max(axis=1, initial=0.0))

    def may_be_cut(self, ids: Ids, smallest: float) -> Flags:
        """Whether (N,) cells are wider than ``smallest`` (share) somewhere, and nowhere too thin to be cut on."""
        widths = 2 * self.half[ids][:, list(self.drives)] / self.span[list(self.drives)]
        return np.asarray((widths.max(axis=1, initial=0.0) > smallest) & (widths.min(axis=1, initial=1.0) > THINNEST))

    def unresolved_share(self) -> float:
        """Share of the drives' ranges that lies in cells that were left unresolved."""
        widths = 2 * self.half[self.unresolved] / self.span
        return float(np.prod(widths[:, list(self.drives)], axis=1).sum())

    def hold(self, ids: Ids, settings: Floats) -> Flags:
        """Whether (N,) ``settings`` (N, d) lie in the cells ``ids`` along the drives that are cut."""
        away = np.abs(settings - self.settings[ids]) - self.half[ids]
        return np.asarray((away[:, list(self.drives)] <= SAME * self.span[list(self.drives)]).all(axis=1))

    def split(self, ids: Ids, axes: Ids) -> Ids:
        """Numbers (N, parts) of the children of cells, from low to high along the drive ``axes`` (N,) of each."""
        wanted = list(zip(ids.tolist(), axes.tolist(), strict=True))
        new = [cut for cut in dict.fromkeys(wanted) if cut not in self._children]
        if new:
            parents, along = np.array(new, dtype=np.intp).T
            numbers = len(self) + np.arange(self.parts * len(new), dtype=np.intp).reshape(-1, self.parts)
            columns = self._cut(parents, along)
            columns.columns.centre_of[:] = numbers.reshape(-1)
            if self.parts % 2:
                columns.columns.centre_of[self.parts // 2 :: self.parts] = self.centre_of[parents]
            self._table.append(columns)
            self._children.update(zip(new, numbers.tolist(), strict=True))
        return np.array([self._children[cut] for cut in wanted], dtype=np.intp).reshape(-1, self.parts)

    def _cut(self, ids: Ids, axis: Ids) -> Any:
        """The columns of all children, those of one cell after another's."""
        parts, rows = self.parts, np.arange(len(ids))
        half, steps = self.half[ids], np.arange(1 - parts, parts, 2)
        half[rows, axis] /= parts
        settings = np.repeat(self.settings[ids, None], parts, axis=1)
        settings[rows, :, axis] += steps * half[rows, axis][:, None]
        moved = np.flatnonzero(np.tile(steps != 0, len(ids)))
        parent, known = moved // parts, self.solved(ids)
        new = follow_or_restart(self.mechanism, known, parent, settings.reshape(-1, half.shape[1])[moved])
        order = np.argsort(np.concatenate([moved, np.setdiff1d(np.arange(parts * len(ids)), moved)]), kind="stable")
        solved = stacked(new, known).take(order) if parts % 2 else new
        motion = bound_motion(self.mechanism, solved, np.repeat(half, parts, axis=0))
        strays = ~holding(self.motion, ids[parent], new.posture, new.settings)
        motion.certified[moved[strays & self.certified[ids[parent]]]] = False
        return columns_of(solved, motion)


def columns_of(solved: Solved, motion: CellMotion) -> BoundedColumns:
    """The columns of cells of drives alone, numbered from 0."""
    numbers = np.arange(len(motion), dtype=np.intp)
    own = motion.settings, motion.half, motion.certified, solved.reached, solved.share, solved.residual, numbers
    return BoundedColumns(Columns(*own), motion)


def lattice_cells(mechanism: Mechanism, centres: Floats, half: Floats, parts: int = 3) -> Cells:
    """Cells with given ``centres`` and half-widths ``half`` (N, d) in drive units, 0 along drives that are held."""
    drives = tuple(np.flatnonzero(half.any(axis=0)).tolist())
    solved = solve(mechanism, centres)
    return Cells(mechanism, drives, columns_of(solved, bound_motion(mechanism, solved, half)), parts)


def even_lattice(low: Floats, width: Floats, counts: Ids) -> tuple[Floats, Floats]:
    """Centres and half-widths (N, d) of ``counts`` equal cells along each drive, the last drive quickest."""
    steps = [(np.arange(count) + 0.5) / count for count in counts.tolist()]
    shares = crossings(steps)
    return low + shares * width, np.broadcast_to(width / counts / 2, shares.shape).copy()
