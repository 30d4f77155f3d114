"""What a finished sweep of a machine leaves to questions that are asked of the same machine after it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass, replace

import numpy as np

from assembly.clearance.narrow_phase.checked_pairs import CheckedPair, Pairs, gather_pairs
from assembly.clearance.narrow_phase.pair_result import PairResult
from assembly.clearance.proof.blocked_roll import swept_unsettled
from assembly.clearance.proof.refiner import Progress
from assembly.clearance.proof.some_roll import with_swept_rolls
from assembly.geometry.mesh import Floats
from assembly.kinematics.assembling import assemble
from assembly.kinematics.mechanism import Mechanism
from assembly.model.machine import Machine


@dataclass(frozen=True, slots=True, eq=False)
class SweptBefore:
    """The ``mechanism`` that was swept, with the rolls that were chosen, and its ``pairs``.

    ``unsettled``: what the sweep says of pairs that move a part for which no roll was found. ``proven`` mm: no setting
    of the drives' ranges at which the machine goes together has less, nor any roll that the ends of rods allow there
    where a pair is ``rolled``; nothing is known of pairs that are not in it.
    """

    mechanism: Mechanism
    pairs: Pairs
    unsettled: tuple[PairResult, ...]
    proven: Mapping[CheckedPair, float]
    rolled: frozenset[CheckedPair] = frozenset()

    @property
    def with_nothing_proven(self) -> SweptBefore:
        """The same for settings that were not swept."""
        return replace(self, proven={})

    @property
    def with_nothing_rolled(self) -> SweptBefore:
        """The same for settings at which the ends of a rod may allow no roll: the sweep says nothing of those."""
        return replace(self, proven={pair: bound for pair, bound in self.proven.items() if pair not in self.rolled})

    def bounds_of(self, pairs: Iterable[CheckedPair]) -> Floats:
        """What (P,) mm is proven of each of ``pairs``; -inf for nothing."""
        return np.array([self.proven.get(pair, -np.inf) for pair in pairs], dtype=np.float64)


def swept_before(
    mechanism: Mechanism, pairs: Pairs, unsettled: tuple[PairResult, ...], results: Iterable[PairResult]
) -> SweptBefore:
    """What a sweep with these ``results`` leaves."""
    found = tuple(results)
    proven = {one.pair: one.proven for one in found if one.proven is not None}
    return SweptBefore(mechanism, pairs, unsettled, proven, frozenset(one.pair for one in found if one.rolls))


def without_sweep(machine: Machine, cores: int, progress: Progress, executor: Executor | None = None) -> SweptBefore:
    """``machine`` where no sweep was made: only rolls are chosen, as a sweep would, and the pairs that hang on them."""
    chosen_machine, chosen = with_swept_rolls(machine, cores, progress)
    unsettled = swept_unsettled(chosen_machine, chosen, cores, progress, executor)
    mechanism = assemble(chosen_machine)
    return SweptBefore(mechanism, gather_pairs(chosen_machine, mechanism.bodies), unsettled, {})
