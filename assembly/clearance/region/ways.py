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
from assembly.clearance.proof.pair_table import PairTable
from assembly.clearance.proof.solid_table import SolidTable
from assembly.clearance.region.lattice_distances import LatticeDistances
from assembly.clearance.region.run_out import TOUCH, Cause, RunOut, WayEnds, setting_of
from assembly.clearance.region.way_lots import LookedAt, LookedLot, WayLot, near_at, spans_of
from assembly.geometry.mesh import Flags, Floats, Ids
from assembly.kinematics.array_stacks import stacked
from assembly.kinematics.mechanism import Mechanism, Solved
from assembly.kinematics.solver import solve
from assembly.kinematics.turn_counts import reserves

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

    def run_out(self, asked: Sequence[WayLot]) -> list[list[RunOut]]:
        """What ends each way of each lot, in the order of its ``others``."""
        lattice = np.concatenate([one.lattice() for one in asked], axis=1)
        open_ = np.concatenate([one.open() for one in asked], axis=1)
        every = [RunOut(Cause.END, setting_of(end)) for end in lattice[-1]]
        if open_.any():
            looked = self._looked(lattice, open_, spans_of(asked))
            rows = np.flatnonzero(looked.short.any(axis=0))
            first = looked.short.argmax(axis=0)[rows]
            clear = lattice[np.maximum(first - 1, 0), rows]
            ends = self._ends.first(clear, looked.solved_at(first, rows), looked.apart_at(first, rows))
            for row, end in zip(rows.tolist(), ends, strict=True):
                every[row] = end
        return [every[span] for span in spans_of(asked)]

    def _looked(self, lattice: Floats, asked: Flags, spans: Sequence[slice]) -> LookedAt:
        """What is found at the settings ``asked`` (S, M) of a lattice (S, M, d) of ways, in lots of ``spans``.

        Of each way only the first setting at which something comes too near, or to an end, is sure to be told: nobody
        goes on from there.
        """
        short, solved = np.zeros(asked.shape, dtype=bool), list[Solved]()
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
                short[some][here] |= reserves(limit, self.mechanism, solved[-1]) < kept
        every, past = stacked(*solved), np.logical_or.accumulate(short, axis=0)
        lots = [self._measured(lattice, every, place, (asked, past), span) for span in spans]
        for lot in lots:
            short[lot.steps, lot.ways] |= lot.near()
        return LookedAt(self._pair_table, short, every, place, tuple(lots))

    def _measured(
        self, lattice: Floats, every: Solved, place: Ids, asked: tuple[Flags, Flags], ways: slice
    ) -> LookedLot:
        """Of the lot of ``ways`` whether a pair is too near at settings, up to the first of each way.

        ``place`` (S, M): the numbers of the settings in ``every``. ``asked`` (S, M) each: which of them are, and which
        come after something that ends a way, or at it. Steps at which nothing is asked are left out.
        """
        wanted = asked[0][:, ways] & ~asked[1][:, ways]
        some = np.flatnonzero(asked[0][:, ways].any(axis=1))
        steps = slice(some.min(initial=len(lattice)), some.max(initial=-1) + 1)
        place, wanted = place[steps, ways], wanted[steps]

        def settled(found: Floats) -> Flags:
            return np.asarray(np.logical_or.accumulate(near_at(found, place.shape), axis=0).reshape(-1))

        settings = lattice[steps, ways].reshape(place.size, lattice.shape[-1])
        solved = every.take(place.reshape(-1))
        solved = replace(solved, settings=settings, reached=solved.reached & wanted.reshape(-1))
        measured = LatticeDistances(self._pair_table, solved, TOUCH, settled, _places(settings, place.shape))
        if wanted.any():
            measured.measure()
        return LookedLot(steps, ways, place.shape, measured)


def _places(settings: Floats, shape: tuple[int, ...]) -> Floats:
    """Where in a lattice the settings of ways of the given ``shape`` (S, M) are: one of the drives, or of the ways."""
    if np.prod([len(np.unique(column)) for column in settings.T]) == len(settings):
        return settings
    return np.stack(np.meshgrid(*map(np.arange, shape), indexing="ij"), axis=-1).reshape(-1, 2).astype(np.float64)
