"""The parts of a stop design that do not depend on each other, as tasks: ways of a drive, and fits of stops to them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any

import numpy as np

from assembly.clearance.narrow_phase.queries import Bench
from assembly.clearance.proof.solid_table import SolidTable
from assembly.clearance.region.run_out import RunOut
from assembly.clearance.region.way_lots import WayLot
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


def has_margins(kept: Kept) -> bool:
    """Whether ways on which so much is kept end no later than those without margins."""
    return kept[0] is not None and kept[1] >= 0


@dataclass(slots=True, eq=False)
class DesignContext:
    """What all tasks of a design have in common; what is made when it is first asked for stays where it is."""

    mechanism: Mechanism
    solid_table: SolidTable
    bench: Bench | None = None
    _made: dict[Kept, Ways] = field(default_factory=dict)

    def __getstate__(self) -> tuple[Mechanism, SolidTable]:
        return self.mechanism, self.solid_table

    def __setstate__(self, state: tuple[Mechanism, SolidTable]) -> None:
        self.mechanism, self.solid_table = state
        self.bench, self._made = None, {}

    def ways(self, kept: Kept) -> Ways:
        """Ways on which pairs and joints keep so much."""
        if self.bench is None:
            self.bench = Bench(self.solid_table.solids, Path(), None)
        if kept not in self._made:
            self._made[kept] = Ways(self.mechanism, self.solid_table, self.bench, *kept)
        return self._made[kept]


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

    def lot(self, sooner: tuple[RunOut, ...]) -> WayLot:
        """These ways, of which it is known what ends them ``sooner``, if it is."""
        return WayLot(self.column, self.end, self.others, sooner)


def ways_task(context: DesignContext, asked: Sequence[WaysAsked]) -> list[tuple[tuple[RunOut, ...], ...]]:
    """Of each of ``asked`` what ends its ways, for each of what is kept, in their order.

    Where margins are kept a way ends no later than where none are, so that nothing before needs another look.
    """
    found: list[dict[Kept, tuple[RunOut, ...]]] = [{} for _ in asked]
    for kept in sorted(dict.fromkeys(each for one in asked for each in one.kept), key=lambda each: each == FREE):
        own = [number for number, one in enumerate(asked) if kept in one.kept]
        lots = [asked[number].lot(_sooner(asked[number], found[number]) if kept == FREE else ()) for number in own]
        for number, ends in zip(own, context.ways(kept).run_out(lots), strict=True):
            found[number][kept] = tuple(ends)
    return [tuple(ends[kept] for kept in one.kept) for one, ends in zip(asked, found, strict=True)]


def _sooner(asked: WaysAsked, found: Mapping[Kept, tuple[RunOut, ...]]) -> tuple[RunOut, ...]:
    """What is known to end ways where margins are kept."""
    return next((ends for margins, ends in found.items() if has_margins(margins)), asked.sooner)


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


def divided(asked: Sequence[WaysAsked], at_once: int) -> list[list[WaysAsked]]:
    """The same ways in at most ``at_once`` lots of about as many each, so that workers have about as much to do.

    Ways of neighbouring settings stay together, for what is measured at the one tells of the other. Those of each drive
    and side are shared out, for some sides take longer than others.
    """
    lots: list[list[WaysAsked]] = [[] for _ in range(at_once)]
    place = 0
    for one in asked:
        for rows in np.array_split(np.arange(len(one.others)), min(at_once, len(one.others))):
            lots[place % at_once].append(one.some(slice(rows[0], rows[-1] + 1)))
            place += 1
    return [lot for lot in lots if lot]
