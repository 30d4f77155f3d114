"""The range of some drives cut into cells, the others at rest: each cell knows how far every body moves in it.

Two bodies' motion against each other depends on some of the drives only, and what is proven with the others at rest
holds wherever they stand (``cell_groups``). So few drives are cut at a time.

The first cells form an even lattice, as coarse as the motion can mostly be proven on; drives that no loop has in common
get theirs each for itself. From there a cell is cut in three along one drive; its middle third keeps the centre, so
every distance measured there serves again. Where the motion cannot be proven a cell is cut on; at the smallest size it
is given up, and what is given up is reported as a place where the machine could not be proven to stay in one piece.

Proven cells that touch must agree on where the machine stands (``faces``), and those that no others join to rest are
given up: there the machine may be on another assembly of its links. So must the centre of a cell that is cut out of a
proven one; where it does not, the cell bounds nothing.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from assembly.clearance.faces import SAME, agreeing, faces, holding, joined_to
from assembly.clearance.redundancy import stays_closed
from assembly.geometry.mesh import Floats
from assembly.motion.cell_bounds import MotionStore
from assembly.motion.cell_motion import CellMotion, bound_motion
from assembly.motion.mechanism import Mechanism, Solved
from assembly.motion.solver import follow_or_restart, solve

SMALLEST = 3.0**-7
"""Share of a drive's range: a cell this small that cannot be proven is given up."""
SMALLEST_UNREACHED = 3.0**-4
"""The same for cells whose very centre cannot be assembled."""
THINNEST = 3.0**-14
"""Share of any drive's range below which cutting has gained nothing: whatever is still open stays so."""
MOST_UNPROVEN = 6000
"""Cells that may be cut at one level for want of proof; beyond it they are given up as they are."""

MOST_FIRST_CELLS = 4096
SAMPLED_CELLS = 49
PROVEN_SHARE = 0.85
"""Share of the sampled cells, of those that can be assembled, that must be proven for a lattice to be fine enough."""
FINER = 1.25
"""How much finer the next lattice tried is."""

Ids = NDArray[np.intp]
Drives = tuple[int, ...]
"""Numbers of drives, lowest first."""


class Cells:
    """All cells made so far, by number. ``motion`` holds the bounds of each, in the order of the numbers.

    ``drives``: numbers of those that are cut, all where none are given; the others stand at rest, of no width.
    """

    def __init__(self, mechanism: Mechanism, drives: Drives | None = None) -> None:
        self.mechanism = mechanism
        every = list(mechanism.machine.drives.values())
        self.drives: Drives = tuple(range(len(every))) if drives is None else drives
        self.span = np.array([drive.high - drive.low for drive in every])
        cut = np.isin(np.arange(len(every)), self.drives)
        self.low = np.where(cut, [drive.low for drive in every], 0.0)
        self._width = np.where(cut, self.span, 0.0)
        whole = solve(mechanism, (self.low + self._width / 2)[None])
        self._pace = self._paces(bound_motion(mechanism, whole, self._width[None] / 2))
        centres, half = self._lattice(self._first_counts())
        solved = solve(mechanism, centres)
        self._store = MotionStore(bound_motion(mechanism, solved, half))
        self.reached = solved.reached
        self.share = solved.share
        self.residual = solved.residual
        self.first: Ids = np.arange(len(centres), dtype=np.intp)
        self.centre_of: Ids = self.first.copy()
        """The number under which distances at a cell's centre are known: its own, or its ancestor's."""
        self._thirds: dict[tuple[int, int], tuple[int, int, int]] = {}
        """The thirds of a cell along a drive."""
        self._roots: tuple[Ids, Ids] | None = None

    def __len__(self) -> int:
        return len(self.motion)

    @property
    def motion(self) -> CellMotion:
        """The bounds of all cells."""
        return self._store.motion

    def of_drives(self, ids: Ids) -> tuple[Cells, Ids]:
        """The cells of the drives alone that these are made of, and the numbers there of those ``ids`` (N,)."""
        return self, ids

    def some_allowed(self, ids: Ids) -> NDArray[np.bool_]:
        """Whether (N,) the ends of rods may allow some of the rolls in each cell."""
        return np.ones(len(ids), dtype=bool)

    def centre_allowed(self, ids: Ids) -> NDArray[np.bool_]:
        """Whether (N,) the ends of rods allow how they are rolled at the centre of each cell."""
        return np.ones(len(ids), dtype=bool)

    def too_wide(self, ids: Ids) -> NDArray[np.bool_]:
        """Whether (N,) each cell spans too much of a roll for bounds on the motion in it."""
        return np.zeros(len(ids), dtype=bool)

    def axes_to_cut(self, ids: Ids, wanted: Ids) -> Ids:  # noqa: ARG002  # which cells matters with rolls only
        """The columns (N,) along which to cut cells: as ``wanted`` (N,), but where others have to be cut first."""
        return wanted

    def share_of_range(self, ids: Ids) -> Floats:
        """Width (N,) of cells as a share of the drives' ranges, along the drive where it is largest."""
        return np.asarray((2 * self.motion.half[ids] / self.span).max(axis=1, initial=0.0))

    def may_be_cut(self, ids: Ids, smallest: float) -> NDArray[np.bool_]:
        """Whether (N,) cells are wider than ``smallest`` (share) somewhere, and nowhere too thin to be cut on."""
        widths = 2 * self.motion.half[ids][:, list(self.drives)] / self.span[list(self.drives)]
        return np.asarray((widths.max(axis=1, initial=0.0) > smallest) & (widths.min(axis=1, initial=1.0) > THINNEST))

    def hold(self, ids: Ids, settings: Floats) -> NDArray[np.bool_]:
        """Whether (N,) ``settings`` (N, d) lie in the cells ``ids`` along the drives that are cut."""
        away = np.abs(settings - self.motion.settings[ids]) - self.motion.half[ids]
        return np.asarray((away[:, list(self.drives)] <= SAME * self.span[list(self.drives)]).all(axis=1))

    def share_given_up(self) -> float:
        """Share of the drives' ranges that lies in cells that were given up."""
        _, given_up = self.proven_roots()
        widths = 2 * self.motion.half[given_up] / self.span
        return float(np.prod(widths[:, list(self.drives)], axis=1).sum())

    def proven_roots(self) -> tuple[Ids, Ids]:
        """Cells that cover the range with their motion proven, and those that were given up."""
        if self._roots is None:
            self._roots = self._proven_roots()
        return self._roots

    def _proven_roots(self) -> tuple[Ids, Ids]:
        """Cut until each cell is proven and agrees with those it touches; what nothing joins to rest is given up."""
        proven, given_up = self._cut_for_proof(self.first)
        while True:
            first, second, agree = self._touching(proven)
            split = np.unique(np.concatenate([first[~agree], second[~agree]]))
            small = self.share_of_range(proven[split]) <= SMALLEST
            if len(split) - small.sum() > MOST_UNPROVEN:
                small[:] = True
            given_up = np.concatenate([given_up, proven[split[small]]])
            cut = proven[split[~small]]
            proven = np.delete(proven, split)
            if not len(split):
                break
            more, lost = self._cut_for_proof(self._thirds_of(cut))
            proven, given_up = np.concatenate([proven, more]), np.concatenate([given_up, lost])
        ours = joined_to(self._at_rest(proven), len(proven), first, second)
        given_up = np.concatenate([given_up, proven[~ours]])
        return proven[ours], given_up

    def _cut_for_proof(self, waiting: Ids) -> tuple[Ids, Ids]:
        """Cells that cover those ``waiting`` with their motion proven, and those that were given up."""
        proven, given_up = [waiting[:0]], [waiting[:0]]
        while len(waiting):
            sure = self.motion.certified[waiting]
            some = waiting[sure]
            sure[sure] = stays_closed(self.mechanism, self.solved(some), self.motion.half[some], self.drives)
            proven.append(waiting[sure])
            rest = waiting[~sure]
            small = self.share_of_range(rest) <= np.where(self.reached[rest], SMALLEST, SMALLEST_UNREACHED)
            if (~small).sum() > MOST_UNPROVEN:
                small[:] = True
            given_up.append(rest[small])
            waiting = self._thirds_of(rest[~small])
        return np.concatenate(proven), np.concatenate(given_up)

    def _thirds_of(self, cells: Ids) -> Ids:
        return self.split(cells, np.argmax(self.motion.half[cells] * self._pace, axis=1)).reshape(-1)

    def _touching(self, cells: Ids) -> tuple[Ids, Ids, NDArray[np.bool_]]:
        """Which of ``cells`` touch along a face, and whether they agree there."""
        own = list(self.drives)
        centre, half = self.motion.settings[cells][:, own], self.motion.half[cells][:, own]
        first, second, places = faces(centre, half, self.span[own])
        settings = self.motion.settings[cells[first]]
        settings[:, own] = places
        return first, second, agreeing(self.motion, cells[first], cells[second], settings)

    def _at_rest(self, cells: Ids) -> Ids:
        """Which of ``cells`` hold the machine at rest, as it is drawn."""
        away = np.abs(self.motion.settings[cells]) - self.motion.half[cells]
        near = np.flatnonzero((away <= SAME * self.span).all(axis=1))
        home, alike = self.mechanism.at_rest, np.zeros(len(near), dtype=np.intp)
        return near[holding(self.motion, cells[near], home.posture.take(alike), home.settings[alike])]

    def split(self, ids: Ids, axes: Ids) -> Ids:
        """Numbers (N, 3) of the thirds of the cells ``ids``: low, middle and high along the drive ``axes`` of each."""
        wanted = list(zip(ids.tolist(), axes.tolist(), strict=True))
        new = [cut for cut in dict.fromkeys(wanted) if cut not in self._thirds]
        if new:
            self._cut(*np.array(new, dtype=np.intp).T)
        return np.array([self._thirds[cut] for cut in wanted], dtype=np.intp).reshape(-1, 3)

    def _cut(self, ids: Ids, axis: Ids) -> None:
        settings, half = self.motion.settings[ids], self.motion.half[ids]
        rows = np.arange(len(ids))
        third = half.copy()
        third[rows, axis] /= 3
        away = np.zeros_like(half)
        away[rows, axis] = 2 * third[rows, axis]
        known = self.solved(ids)
        wanted, start = np.concatenate([settings - away, settings + away]), np.concatenate([rows, rows])
        sides = follow_or_restart(self.mechanism, known, start, wanted)
        astray = self.motion.certified[ids] & ~holding(
            self.motion, np.tile(ids, 2), sides.posture, sides.settings
        ).reshape(2, -1)
        count = len(self)
        for solved, centre in (
            (known, self.centre_of[ids]),
            (sides, np.arange(count + len(ids), count + 3 * len(ids))),
        ):
            self._append(solved, np.concatenate([third] * (len(solved.settings) // len(ids))), centre)
        self.motion.certified[count + len(ids) :][astray.reshape(-1)] = False
        for k, cut in enumerate(zip(ids.tolist(), axis.tolist(), strict=True)):
            self._thirds[cut] = (count + len(ids) + k, count + k, count + 2 * len(ids) + k)

    def solved(self, ids: Ids) -> Solved:
        """The postures at the centres of cells."""
        motion = self.motion
        return Solved(
            motion.settings[ids], motion.posture.take(ids), self.reached[ids], self.share[ids], self.residual[ids]
        )

    def _append(self, solved: Solved, half: Floats, centre: Ids) -> None:
        self._keep(solved, bound_motion(self.mechanism, solved, half), centre)

    def _keep(self, solved: Solved, motion: CellMotion, centre: Ids) -> None:
        """Add cells, their bounds and the numbers under which distances at their centres are known."""
        self._store.add(motion)
        self.reached = np.concatenate([self.reached, solved.reached])
        self.share = np.concatenate([self.share, solved.share])
        self.residual = np.concatenate([self.residual, solved.residual])
        self.centre_of = np.concatenate([self.centre_of, centre])

    def _first_counts(self) -> Ids:
        """Cells (d,) along each drive of the first lattice: as each set of drives that blocks share needs alone."""
        counts = np.ones(len(self.span), dtype=np.intp)
        for together in self.mechanism.system.drives_together(self.drives):
            counts = np.maximum(counts, self._coarsest(together))
        while np.prod(counts) > MOST_FIRST_CELLS:
            counts = np.where(counts == counts.max(), np.maximum(1, counts - 1), counts)
        return counts

    def _coarsest(self, drives: Drives) -> Ids:
        """Cells (d,) along each drive of the coarsest even lattice over ``drives`` alone that is mostly proven."""
        alone = np.isin(np.arange(len(self.span)), drives)
        reach = np.where(alone, self._width * self._pace, 0.0)
        width = float(reach.max(initial=0.0))
        counts = np.ones(len(reach), dtype=np.intp)
        while not self._mostly_proven(counts, alone):
            width /= FINER
            finer = np.maximum(1, np.ceil(reach / max(width, 1e-9))).astype(np.intp)
            if np.prod(finer) > MOST_FIRST_CELLS:
                break
            counts = finer
        return counts

    def _mostly_proven(self, counts: Ids, cut: NDArray[np.bool_]) -> bool:
        """Whether a sample of a lattice over the drives ``cut`` (d,) is; a few can show that too many are not."""
        centres, half = (np.where(cut, array, 0.0) for array in self._lattice(counts))
        sample = np.unique(np.linspace(0, len(centres) - 1, SAMPLED_CELLS).astype(np.intp))
        proven = np.zeros(0, dtype=bool)
        parts = sample[::4], np.delete(sample, np.s_[::4])
        for some in (part for part in parts if len(part)):
            solved = solve(self.mechanism, centres[some])
            proven = np.append(proven, bound_motion(self.mechanism, solved, half[some]).certified[solved.reached])
            if (~proven).sum() > (1 - PROVEN_SHARE) * len(sample):
                return False
        return not len(proven) or bool(proven.mean() >= PROVEN_SHARE)

    def _lattice(self, counts: Ids) -> tuple[Floats, Floats]:
        steps = [(np.arange(count) + 0.5) / count for count in counts]
        shares = np.stack(np.meshgrid(*steps, indexing="ij"), axis=-1).reshape(-1, len(counts))
        half = np.broadcast_to(self._width / counts / 2, shares.shape).copy()
        return self.low + shares * self._width, half

    def _paces(self, motion: CellMotion) -> Floats:
        """How far in mm each drive moves the farthest-moving body per unit at the middle of the range (d,)."""
        scale = self.mechanism.equations.scale
        pace = np.linalg.norm(motion.shift_rate[0], axis=-1) + scale * np.linalg.norm(motion.turn_rate[0], axis=-1)
        widest = 1.0 / np.maximum(self.span, 1e-12)
        return np.asarray(np.where(np.isfinite(pace).all(), pace.max(axis=0, initial=0.0), widest) + 1e-6 * widest)
