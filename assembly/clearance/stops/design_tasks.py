"""The parts of a stop design that do not depend on each other, as tasks: ways of a drive, and fits of stops to them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from math import ceil
from pathlib import Path
from typing import Any

from assembly.clearance.narrow_phase.queries import Bench
from assembly.clearance.proof.solid_table import SolidTable
from assembly.clearance.region.run_out import RunOut
from assembly.clearance.region.ways import Ways
from assembly.clearance.stops.stop_blow import Ground
from assembly.clearance.stops.stop_fit import StopDesign, fit_stop
from assembly.geometry.mesh import Floats
from assembly.kinematics.mechanism import Mechanism
from assembly.model.travel_stop import TravelStop

Kept = tuple[float | None, float]
"""What pairs and joints must keep: mm, None for not to touch, and mm or degrees."""
FREE: Kept = None, 0.0
"""No margins."""
LOTS_EACH = 2
"""Lots of ways for each worker, so that none waits long for another."""


def has_margins(kept: Kept) -> bool:
    """Whether ways on which so much is kept end no later than those without margins."""
    return kept[0] is not None and kept[1] >= 0


@dataclass(slots=True, eq=False)
class DesignContext:
    """What all tasks of a design have in common; ``bench``, made when it is first asked for, stays where it is."""

    mechanism: Mechanism
    solid_table: SolidTable
    bench: Bench | None = None

    def __getstate__(self) -> tuple[Mechanism, SolidTable]:
        return self.mechanism, self.solid_table

    def __setstate__(self, state: tuple[Mechanism, SolidTable]) -> None:
        self.mechanism, self.solid_table = state
        self.bench = None

    def ways(self, kept: Kept) -> Ways:
        """Ways on which pairs and joints keep so much."""
        if self.bench is None:
            self.bench = Bench(self.solid_table.solids, Path(), None)
        return Ways(self.mechanism, self.solid_table, self.bench, *kept)


@dataclass(frozen=True, slots=True, eq=False)
class WaysAsked:
    """Ways of drive ``column`` to its setting ``end`` at M settings of the ``others`` (M, d), for each of ``kept``.

    ``sooner``: what is known to end them where margins are kept, if anything is.
    """

    column: int
    end: float
    others: Floats
    kept: tuple[Kept, ...]
    sooner: tuple[RunOut, ...] = ()

    def some(self, rows: slice) -> WaysAsked:
        """Those of some settings of the others."""
        return WaysAsked(self.column, self.end, self.others[rows], self.kept, self.sooner[rows])


def ways_task(context: DesignContext, asked: WaysAsked) -> tuple[tuple[RunOut, ...], ...]:
    """What ends each of the ways, for each of what is kept, in their order.

    Where margins are kept a way ends no later than where none are, so that nothing before needs another look.
    """
    found: dict[Kept, tuple[RunOut, ...]] = {}
    for kept in sorted(asked.kept, key=lambda one: one == FREE):
        more = (ends for margins, ends in found.items() if has_margins(margins))
        sooner = next(more, asked.sooner) if kept == FREE else ()
        found[kept] = tuple(context.ways(kept).run_out(asked.column, asked.end, asked.others, sooner or None))
    return tuple(found[kept] for kept in asked.kept)


@dataclass(frozen=True, slots=True, eq=False)
class FitAsked:
    """A stop to be fitted to what ``ground_of`` tells of its ways; ``hard``: the stop that it comes ahead of."""

    stop: TravelStop
    ground: dict[str, Any]
    hard: StopDesign | None


def fit_asked(stop: TravelStop, ground: Ground, hard: StopDesign | None) -> FitAsked:
    """The fit of ``stop`` on ``ground``, whose mechanism the context has."""
    own = {each.name: getattr(ground, each.name) for each in fields(ground) if each.name != "mechanism"}
    return FitAsked(stop, own, hard)


def fit_task(context: DesignContext, asked: FitAsked) -> StopDesign:
    """As ``fit_stop``."""
    return fit_stop(asked.stop, Ground(mechanism=context.mechanism, **asked.ground), asked.hard)


def divided(asked: Sequence[WaysAsked], at_once: int) -> list[WaysAsked]:
    """The same ways in their order, in so many lots that each of ``at_once`` workers has a few if there are enough.

    Ways of neighbouring settings stay together: what is measured at the one tells of the other.
    """
    if at_once == 1 or not asked:
        return [*asked]
    most = ceil(sum(len(one.others) for one in asked) / (LOTS_EACH * at_once))
    return [lot for one in asked for lot in _even(one, ceil(len(one.others) / most))]


def _even(asked: WaysAsked, lots: int) -> list[WaysAsked]:
    size = ceil(len(asked.others) / lots)
    return [asked.some(slice(start, start + size)) for start in range(0, len(asked.others), size)]
