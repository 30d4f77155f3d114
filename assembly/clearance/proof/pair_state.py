"""One pair's course through a sweep, searched now or known from an earlier one, and what a whole sweep gives."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from assembly.clearance.narrow_phase.checked_pairs import CheckedPair, Exclusion
from assembly.clearance.narrow_phase.distance import CollisionModel
from assembly.clearance.narrow_phase.pair_result import PairResult, Work
from assembly.clearance.narrow_phase.witness import Witness
from assembly.clearance.proof.cached import CachedPair, Depth, PairFound
from assembly.clearance.proof.cell_groups import CellGroups
from assembly.clearance.proof.pair_search import PairSearch
from assembly.record import UnreachableEntry

DEEPEST_FIRST = (Depth.SHOWN, Depth.CLOSED_IN, Depth.DECIDED, Depth.APART)


@dataclass(slots=True, eq=False)
class PairState:
    """``known`` from earlier sweeps, or the ``search`` where the pair is searched now, and how far it is looked into.

    ``bound`` mm, what boxes prove; ``at_rest`` and ``decided`` mm, its least at these moments, infinite where it was
    not measured. ``found`` stands for the search if there is none; ``corners`` show a least that was not measured.
    ``searched``: what is found of it was searched now, here or by a worker.
    """

    pair: CheckedPair
    known: CachedPair | None = None
    search: PairSearch | None = None
    depth: Depth = Depth.APART
    bound: float = -np.inf
    at_rest: float = np.inf
    decided: float = np.inf
    found: PairFound | None = None
    corners: Witness | None = None
    searched: bool = False

    def cached_at(self, depth: Depth) -> PairFound | None:
        """What earlier sweeps found of it, looked into so far."""
        found = None if self.known is None else self.known.found.get(depth)
        return found and replace(found, result=replace(found.result, pair=self.pair))

    def recall(self, depth: Depth | None = None) -> bool:
        """Take what is known of it at ``depth`` in the place of a search, or else at its own; whether there is any."""
        found = self.cached_at(depth) if depth else self.cached_at(self.depth) or self.cached_at(Depth.SHOWN)
        if found is not None:
            self.found, self.depth = found, depth or self.depth
        return found is not None

    @property
    def deepest(self) -> PairFound | None:
        """What earlier sweeps found of it, looked into as far as any did."""
        return next((found for depth in DEEPEST_FIRST if (found := self.cached_at(depth))), None)

    @property
    def surface_error(self) -> float:
        """How far both true surfaces together may stand off their facets, mm."""
        if self.search is not None:
            return self.search.surface_error
        found = self.deepest
        return found.result.surface_error if found else 0.0

    def with_found(self, found: PairFound) -> CachedPair:
        """All that is known of it by now, ``found`` being of its depth."""
        earlier = self.known or CachedPair(self.bound)
        at_rest, decided = min(self.at_rest, earlier.at_rest), min(self.decided, earlier.decided)
        return CachedPair(self.bound, at_rest, decided, {**earlier.found, self.depth: found})


@dataclass(frozen=True, slots=True, eq=False)
class PairsSwept:
    """All pairs, the places that cannot be reached, and the work done; ``stopped`` says why where it ended early.

    ``groups`` hold the cells that the range was cut into and ``collision_models`` the solids that were searched, for
    what else is to be proven or measured; ``states`` say of each pair how its result came about.
    """

    pairs: tuple[PairResult, ...]
    states: tuple[PairState, ...]
    unreachable: tuple[UnreachableEntry, ...]
    unreachable_share: float
    stopped: str
    work: Work
    groups: CellGroups
    collision_models: Mapping[Exclusion, CollisionModel]
