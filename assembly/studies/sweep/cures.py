"""What would cure the failing pairs, worst first; each cure was swept over the whole range before it is reported."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

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

Names = tuple[str, str]


def cures(groups: CellGroups, pairs: Pairs, found: Sequence[PairFound]) -> Iterator[tuple[Names, CureEntry]]:
    """The names of pairs and their cures, from the cells of the sweep; ``found`` in the order of room, the worst first.

    Raises TimeLimitError, as ``smaller_ranges`` does: what was given by then holds.
    """
    every = [one.result for one in found]
    for one in [one for one in found if one.result.verdict is Verdict.FAILS][:MOST_CURED]:
        failing, pair = one.result, one.result.pair
        solids = pairs.solids[pair.trim_a], pairs.solids[pair.trim_b]
        cure: CureEntry | None = seat_cure(groups, pair, *solids) if failing.overlap is not None else None
        if cure is None and one.witness is not None and not pair.rigidly_coupled:
            cure = shape_cure(groups, failing, (one.witness.shape_a, one.witness.shape_b), solids, every)
        if cure is not None:
            yield (pair.a, pair.b), cure


def smaller_ranges(machine: Machine, found: Sequence[PairFound]) -> Iterator[tuple[Names, SmallerRange]]:
    """The names of pairs and the smaller range of one drive in which each is proven clear; ``found`` worst first."""
    left = MOST_SWEPT
    failing = [
        one.result for one in found if one.result.verdict is Verdict.FAILS and not one.result.pair.rigidly_coupled
    ]
    for result in failing[:MOST_CURED]:
        tried = smaller_range(machine, result, left)
        left -= tried.swept if tried is not None else 0
        if tried is not None and tried.proven:
            yield (result.pair.a, result.pair.b), tried
