"""Ways from rest to the end of a drive, for each of many settings of the other drives: what runs out first.

Looked at step by step on a lattice of settings and then closed in on (``run_out``): found, not proven. What ends a way
never depends on which others are looked at with it.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import replace

import numpy as np

from assembly.clearance.narrow_phase.queries import Bench
from assembly.clearance.proof.pair_search import PairSearch
from assembly.clearance.proof.pair_table import ROOM, PairTable
from assembly.clearance.proof.solid_table import SolidTable
from assembly.clearance.region.lattice_distances import LatticeDistances
from assembly.clearance.region.run_out import TOUCH, Cause, RunOut, WayEnds, setting_of
from assembly.geometry.mesh import Flags, Floats
from assembly.kinematics.array_stacks import stacked
from assembly.kinematics.mechanism import Mechanism, Solved
from assembly.kinematics.solver import solve

STEPS = 24
"""Steps from rest to the end of a drive."""
HAIR = 0.06
"""mm that a stop leaves over what must be proven."""
TOGETHER = 5
"""Steps solved in one go: ways on which the machine has locked are not gone on."""


def _provable(search: PairSearch) -> float:
    """What a pair must keep, and a hair more, so that it can be proven of the surfaces as they are drawn."""
    return search.pair.required + search.a.surface_error + search.b.surface_error + HAIR


def _keeping(solid_table: SolidTable, clearance: float | None) -> SolidTable:
    """``solid_table`` with each pair to keep at least ``clearance`` mm; None: only not to touch."""
    kept = copy(solid_table)
    kept.searches = [
        PairSearch(
            replace(one.pair, required=0.0 if clearance is None else max(_provable(one), clearance)),
            one.a,
            one.b,
            one.reduced,
            one.rolls,
            one.carriers,
        )
        for one in solid_table.searches
    ]
    return kept


class Ways:
    """Ways from rest along one drive, for many settings of the others.

    ``clearance`` and ``reserve``: what pairs and joints must keep (mm; mm or degrees). Without a clearance pairs must
    only not touch, and limits of measures end no way. ``bench`` measures the solids of ``solid_table``.
    """

    def __init__(
        self, mechanism: Mechanism, solid_table: SolidTable, bench: Bench, clearance: float | None, reserve: float
    ) -> None:
        self.mechanism = mechanism
        self._pair_table = PairTable(mechanism, _keeping(solid_table, clearance), bench)
        self._ends = WayEnds(self._pair_table, reserve, measures=clearance is not None)

    def run_out(self, column: int, end: float, others: Floats, known: Sequence[RunOut] | None = None) -> list[RunOut]:
        """What ends each of M ways of drive ``column`` from rest to its setting ``end``, in the order of ``others``.

        ``others`` (M, d), a whole lattice: the settings of the other drives. ``known``: what ends them where more must
        be kept, so that nothing ends them sooner.
        """
        steps = np.linspace(0.0, end, STEPS + 1)
        lattice = np.repeat(others[None], len(steps), axis=0)
        lattice[:, :, column] = steps[:, None]
        open_ = np.ones(lattice.shape[:2], dtype=bool)
        if known is not None:
            open_ = np.abs(steps)[:, None] >= np.abs([one.at[column] for one in known])
        short = self._short(lattice, open_)
        first, rows = short.argmax(axis=0), np.flatnonzero(short.any(axis=0))
        ends = self._ends.first(lattice[np.maximum(first[rows] - 1, 0), rows], lattice[first[rows], rows])
        found = dict(zip(rows.tolist(), ends, strict=True))
        return [found.get(row) or RunOut(Cause.END, setting_of(lattice[-1, row])) for row in range(len(others))]

    def _short(self, lattice: Floats, asked: Flags) -> Flags:
        """Where (S, M) in a lattice (S, M, d) something comes too near, or to an end, of the settings ``asked``.

        Of each way only the first such setting is sure to be told: nobody goes on from there.
        """
        short, solved = np.zeros(asked.shape, dtype=bool), list[Solved]()
        if not asked.any():
            return short
        place = np.zeros(asked.shape, dtype=np.intp)
        asked = asked.copy()
        for start in range(0, len(lattice), TOGETHER):
            some = slice(start, start + TOGETHER)
            asked[some] &= ~short.any(axis=0)
            here = asked[some].nonzero()
            solved.append(solve(self.mechanism, lattice[some][here]))
            place[some][here] = sum(len(one.settings) for one in solved[:-1]) + np.arange(len(here[0]))
            short[some][here] = ~solved[-1].reached
            for limit, kept in self._ends.limits:
                short[some][here] |= limit.reserve(solved[-1].posture) < kept
        before = asked & ~np.logical_or.accumulate(short, axis=0)
        every, settings = stacked(*solved).take(place.reshape(-1)), lattice.reshape(asked.size, -1)
        whole = replace(every, settings=settings, reached=every.reached & before.reshape(-1))
        return short | self._near(whole, asked.shape)

    def _near(self, solved: Solved, shape: tuple[int, ...]) -> Flags:
        """At which settings of ways of the given ``shape`` (S, M) a pair is too near, up to the first of each way."""

        def near(found: Floats) -> Flags:
            return np.asarray(found[ROOM].reshape(shape) < TOUCH)

        def settled(found: Floats) -> Flags:
            return np.asarray(np.logical_or.accumulate(near(found), axis=0).reshape(-1))

        centres = LatticeDistances(self._pair_table, solved, TOUCH, settled, _places(solved.settings, shape))
        centres.measure()
        return near(centres.found)


def _places(settings: Floats, shape: tuple[int, ...]) -> Floats:
    """Where in a lattice the settings of ways of the given ``shape`` (S, M) are: one of the drives, or of the ways."""
    if np.prod([len(np.unique(column)) for column in settings.T]) == len(settings):
        return settings
    return np.stack(np.meshgrid(*map(np.arange, shape), indexing="ij"), axis=-1).reshape(-1, 2).astype(np.float64)
