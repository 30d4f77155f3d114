"""What would cure the failing pairs, worst first; each cure was swept over the whole range before it is reported."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from assembly.clearance.cures.range_cure import SmallerRange, smaller_range
from assembly.clearance.cures.seat_cure import seat_cure
from assembly.clearance.cures.shape_cure import shape_cure
from assembly.clearance.narrow_phase.checked_pairs import Pairs
from assembly.clearance.narrow_phase.pair_result import Verdict
from assembly.clearance.proof.cached import PairFound
from assembly.clearance.proof.cell_groups import CellGroups
from assembly.model.machine import Machine
from assembly.record import CureEntry

MOST_CURED = 3
"""Failing pairs for which a cure is sought; the next run looks at what is left."""

MOST_SWEPT = 6
"""Smaller ranges that are swept in all."""


def cures(groups: CellGroups, pairs: Pairs, found: Sequence[PairFound]) -> Mapping[tuple[str, str], CureEntry]:
    """Cures by the names of the pair, from the cells of its sweep; ``found`` in the order of room, the worst first."""
    every = [one.result for one in found]
    made: dict[tuple[str, str], CureEntry] = {}
    for one in [one for one in found if one.result.verdict is Verdict.FAILS][:MOST_CURED]:
        failing, pair = one.result, one.result.pair
        solids = pairs.solids[pair.trim_a], pairs.solids[pair.trim_b]
        cure: CureEntry | None = seat_cure(groups, pair, *solids) if failing.overlap is not None else None
        if cure is None and one.witness is not None and not pair.rigidly_coupled:
            cure = shape_cure(groups, failing, (one.witness.shape_a, one.witness.shape_b), solids, every)
        if cure is not None:
            made[pair.a, pair.b] = cure
    return made


def smaller_ranges(machine: Machine, found: Sequence[PairFound]) -> Mapping[tuple[str, str], SmallerRange]:
    """By the names of the pair, the smaller range of one drive in which it is proven clear; ``found`` worst first."""
    made: dict[tuple[str, str], SmallerRange] = {}
    left = MOST_SWEPT
    failing = [
        one.result for one in found if one.result.verdict is Verdict.FAILS and not one.result.pair.rigidly_coupled
    ]
    for result in failing[:MOST_CURED]:
        tried = smaller_range(machine, result, left)
        left -= tried.swept if tried is not None else 0
        if tried is not None and tried.proven:
            made[result.pair.a, result.pair.b] = tried
    return made
