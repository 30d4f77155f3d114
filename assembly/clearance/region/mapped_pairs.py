"""The pairs that a map has to look at: those that may have the least distance or the least room somewhere in it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import zip_longest

import numpy as np

from assembly.clearance.narrow_phase.checked_pairs import CheckedPair, Pairs
from assembly.clearance.narrow_phase.queries import Bench
from assembly.clearance.proof.pair_table import PairTable
from assembly.clearance.proof.solid_table import SolidTable
from assembly.clearance.proof.swept_before import SweptBefore
from assembly.clearance.region.clearance_field import Field, field_over
from assembly.clearance.region.lattice_distances import LatticeDistances, measured_lattice
from assembly.geometry.mesh import Floats
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rod_roll import rods_of, windows
from assembly.kinematics.solver import solve

FIRST = 12
"""So many pairs, those of which the sweep has proven the least, are measured first."""


class MappedPairs:
    """Those of ``every`` pair that matter, measured on ``bench``, with what the sweep ``before`` has proven of them.

    ``parts``: the settings of the map, each (N, d) a whole lattice.
    """

    def __init__(self, before: SweptBefore, every: Pairs, bench: Bench, parts: Sequence[Floats]) -> None:
        allowed = all(_rolls_allowed(before.mechanism, settings) for settings in parts)
        self._before = before if allowed else before.with_nothing_rolled
        self._every, self._bench, self._parts = every.checked, bench, parts
        self._solid_table = SolidTable(before.mechanism, every.solids)

    @property
    def table(self) -> PairTable:
        """The table of the pairs that were found to matter so far."""
        proven = self._before.bounds_of(self.pairs)
        return PairTable(self._before.mechanism, self._solid_table, self._bench, proven)

    @property
    def pairs(self) -> tuple[CheckedPair, ...]:
        """The pairs in the table, in its order."""
        return tuple(search.pair for search in self._solid_table.searches)

    def fields(self, half: Floats) -> Iterator[Field]:
        """The field of each part, of cells ``half`` (d,) wide to either side."""
        table, measured = self._measured()
        for settings, known in zip_longest(self._parts, measured):
            yield field_over(table, settings, np.broadcast_to(half, settings.shape), known)

    def _measured(self) -> tuple[PairTable, list[LatticeDistances]]:
        """The table of the pairs that matter, and what was measured of them in each part if not all of them do.

        A pair of which more is proven than the least of others comes to at any of the settings governs none of them.
        """
        proven = self._before.bounds_of(self._every)
        order, nothing = np.argsort(proven, kind="stable"), int(np.isneginf(proven).sum())
        first = np.sort(order[: max(nothing, FIRST)])
        table, left = self._with(first.tolist()), np.setdiff1d(order, first)
        if not len(left):
            return table, []
        measured = [measured_lattice(table, solve(table.mechanism, settings)) for settings in self._parts]
        most = np.max([_most(centres.found) for centres in measured], axis=0)
        required = np.array([self._every[number].required for number in left.tolist()])
        near = left[(proven[left] < most[0]) | (proven[left] - required < most[1])]
        if len(near):
            table = self._with(near.tolist())
            for centres in measured:
                centres.measure_more(table)
        return table, measured

    def _with(self, numbers: Iterable[int]) -> PairTable:
        """The table with the pairs ``numbers`` added."""
        known = len(self._solid_table.solids)
        for search in self._solid_table.add(self._every[number] for number in numbers):
            self._solid_table.pieces(search.a)
            self._solid_table.pieces(search.b)
        self._bench.add(self._solid_table.solids[known:])
        return self.table


def _rolls_allowed(mechanism: Mechanism, settings: Floats) -> bool:
    """Whether the ends of every rod allow some roll at all of ``settings`` (N, d) that are reached."""
    known = rods_of(mechanism)
    if not known:
        return True
    solved = solve(mechanism, settings)
    posture = solved.posture.take(np.flatnonzero(solved.reached))
    return all(bool((windows(rod, posture).free() >= 0).all()) for rod in known)


def _most(found: Floats) -> Floats:
    """The largest (2,) of figures (2, N) mm at settings that are reached."""
    return np.asarray(np.where(np.isinf(found), -np.inf, found).max(axis=1, initial=-np.inf))
