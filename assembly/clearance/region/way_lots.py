"""Lots of ways, as settings of a lattice, and what is known of the pairs at those that were looked at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assembly.clearance.proof.pair_search import PieceSearch
from assembly.clearance.proof.pair_table import ROOM, PairTable
from assembly.clearance.proof.solid_table import Boxes
from assembly.clearance.region.lattice_distances import LatticeDistances
from assembly.clearance.region.run_out import TOUCH, KnownApart, RunOut
from assembly.geometry.mesh import Flags, Floats, Ids
from assembly.kinematics.mechanism import Solved

STEPS = 24
"""Steps from rest to the end of a drive."""


@dataclass(frozen=True, slots=True, eq=False)
class WayLot:
    """M ways of drive ``column`` from rest to its setting ``end``.

    ``others`` (M, d), a whole lattice: the settings of the other drives. ``sooner``: what ends them where more must be
    kept, if that is known, so that nothing ends them before.
    """

    column: int
    end: float
    others: Floats
    sooner: Sequence[RunOut] = ()

    def lattice(self) -> Floats:
        """The settings (S, M, d) that are looked at."""
        lattice = np.repeat(self.others[None], STEPS + 1, axis=0)
        lattice[:, :, self.column] = self._steps()[:, None]
        return lattice

    def open(self) -> Flags:
        """At which of them (S, M) anything may be too near."""
        if not self.sooner:
            return np.ones((STEPS + 1, len(self.others)), dtype=bool)
        return np.asarray(np.abs(self._steps())[:, None] >= np.abs([one.at[self.column] for one in self.sooner]))

    def _steps(self) -> Floats:
        return np.linspace(0.0, self.end, STEPS + 1)


@dataclass(frozen=True, slots=True, eq=False)
class LookedLot:
    """The distances ``measured`` at the ``steps`` of some ``ways``, a lattice of the given ``shape``."""

    steps: slice
    ways: slice
    shape: tuple[int, int]
    measured: LatticeDistances

    def near(self) -> Flags:
        """Where a pair is too near."""
        return near_at(self.measured.found, self.shape)

    def rows(self, steps: Ids, ways: Ids) -> tuple[Ids, Ids]:
        """Which of K settings, by step and way, are of this lot, and their numbers here."""
        own = np.flatnonzero((ways >= self.ways.start) & (ways < self.ways.stop))
        return own, (steps[own] - self.steps.start) * self.shape[1] + ways[own] - self.ways.start


@dataclass(frozen=True, slots=True, eq=False)
class LookedAt:
    """A lattice of ways (S, M), in ``lots``: where something comes too near, or to an end, is ``short``.

    ``place`` (S, M): the numbers of its settings among those ``solved``.
    """

    pair_table: PairTable
    short: Flags
    solved: Solved
    place: Ids
    lots: tuple[LookedLot, ...]

    def solved_at(self, steps: Ids, ways: Ids) -> Solved:
        """The postures at K settings of the lattice, by step and way."""
        return self.solved.take(self.place[steps, ways])

    def apart_at(self, steps: Ids, ways: Ids) -> KnownApart:
        """What each pair is apart at least at K settings that were looked at, by step and way."""
        own = [(*lot.rows(steps, ways), lot.measured.bounds) for lot in self.lots]
        boxes = Boxes(self.pair_table.mechanism, self.solved_at(steps, ways).posture)

        def bound(piece: PieceSearch) -> Floats:
            apart = boxes.gaps(piece)
            for here, rows, bounds in own:
                known = bounds.get((piece.a.solid, piece.b.solid))
                if known is not None:
                    apart[here] = np.maximum(apart[here], known[rows])
            return apart

        def apart(number: int) -> Floats:
            shapes = np.array([bound(piece) for piece in self.pair_table.pieces(number)])
            return np.asarray(np.maximum(bound(self.pair_table.wholes[number]), shapes.min(axis=0)))

        return apart


def near_at(found: Floats, shape: tuple[int, int]) -> Flags:
    """At which settings of ways of the given ``shape`` (S, M) a pair is too near."""
    return np.asarray(found[ROOM].reshape(shape) < TOUCH)


def spans_of(asked: Sequence[WayLot]) -> list[slice]:
    """Which ways each lot has, of those of all lots."""
    ends = np.cumsum([len(one.others) for one in asked]).tolist()
    return [slice(end - len(one.others), end) for one, end in zip(asked, ends, strict=True)]
