"""The rules of a machine asked at many settings: some settings at a time, each lot as a task.

How the lots are made does not hang on how many work on them, so neither does what is found.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

from assembly.clearance.narrow_phase.checked_pairs import Pairs
from assembly.clearance.narrow_phase.queries import Bench
from assembly.clearance.narrow_phase.witness import Witnesses
from assembly.clearance.proof.solid_table import SolidTable
from assembly.clearance.proof.swept_before import SweptBefore
from assembly.clearance.region.close_in import close_in
from assembly.clearance.region.rules import Rule, Rules, Standing
from assembly.geometry.mesh import Flags, Floats, Ids
from assembly.kinematics.mechanism import Mechanism
from assembly.parallel.every_result import EveryResult

Result = TypeVar("Result")
PLACES_TOGETHER = 64
"""Places of a border that are closed in on in one task."""


@dataclass(slots=True, eq=False)
class RulesContext:
    """What all tasks have in common; what measures is made when it is first asked for, and stays where it is."""

    before: SweptBefore
    mechanism: Mechanism
    pairs: Pairs
    solid_table: SolidTable
    made: list[tuple[Rules, Witnesses]] = field(default_factory=list)

    def __getstate__(self) -> tuple[SweptBefore, Mechanism, Pairs, SolidTable]:
        return self.before, self.mechanism, self.pairs, self.solid_table

    def __setstate__(self, state: tuple[SweptBefore, Mechanism, Pairs, SolidTable]) -> None:
        self.before, self.mechanism, self.pairs, self.solid_table = state
        self.made = []

    @property
    def rules(self) -> Rules:
        """The rules, measured in this process."""
        return self._ready()[0]

    @property
    def witnesses(self) -> Witnesses:
        """Shows pairs at single postures, with the solids that the rules are measured with."""
        return self._ready()[1]

    def _ready(self) -> tuple[Rules, Witnesses]:
        if not self.made:
            bench = Bench(self.solid_table.solids, Path(), None)
            rules = Rules(self.before, self.mechanism, self.pairs, (self.solid_table, bench))
            ready = {each: bench.collision_models[number] for each, number in self.solid_table.numbers.items()}
            self.made.append((rules, Witnesses(self.mechanism, self.pairs.solids, ready)))
        return self.made[0]


Swallowing = frozenset[int]
"""Pairs one of which was seen inside the other on the lattice."""


def over_task(context: RulesContext, settings: Floats) -> tuple[Standing, Swallowing]:
    """How the rules stand over a whole lattice of settings, and which pairs were seen one inside the other."""
    context.rules.swallowing.clear()
    return context.rules.over(settings), frozenset(context.rules.swallowing)


def rooms_task(context: RulesContext, swallowing: Swallowing, settings: Floats, asked: Flags | None) -> Floats:
    """As ``Rules.rooms``."""
    return _having_seen(context, swallowing).rooms(settings, asked)


def close_in_task(
    context: RulesContext, swallowing: Swallowing, inside: Floats, outside: Floats, governor: Ids
) -> tuple[Floats, Floats, Flags]:
    """As ``close_in``."""
    return close_in(_having_seen(context, swallowing), inside, outside, governor)


def _having_seen(context: RulesContext, swallowing: Swallowing) -> Rules:
    context.rules.swallowing.clear()
    context.rules.swallowing.update(swallowing)
    return context.rules


class RuleTasks:
    """The rules of ``context``, asked by ``tasks``."""

    def __init__(self, context: RulesContext, tasks: EveryResult) -> None:
        self.context, self._tasks = context, tasks
        self._swallowing: Swallowing = frozenset()

    @property
    def every(self) -> tuple[Rule, ...]:
        """All rules by their numbers."""
        return self.context.rules.every

    def over(self, parts: Sequence[Floats]) -> list[Standing]:
        """How they stand over each of ``parts`` of a lattice of settings."""
        found = self._tasks.of(over_task, [(settings,) for settings in parts], "look")
        self._swallowing = self._swallowing.union(*(seen for _, seen in found))
        return [standing for standing, _ in found]

    def rooms(self, settings: Floats, asked: Flags | None = None) -> Floats:
        """As ``Rules.rooms``, some settings at a time."""
        lots = [
            (self._swallowing, settings[rows], None if asked is None else asked[:, rows])
            for rows in _lots(len(settings))
        ]
        found = self._tasks.of(rooms_task, lots)
        return np.concatenate([np.zeros((len(self.every), 0)), *found], axis=1)

    def close_in(self, inside: Floats, outside: Floats, governor: Ids, stage: str = "") -> tuple[Floats, Floats, Flags]:
        """As ``close_in``, some places at a time; ``stage`` names it in what the progress is told."""
        lots = [(self._swallowing, inside[rows], outside[rows], governor[rows]) for rows in _lots(len(inside))]
        found = self._tasks.of(close_in_task, lots, stage)
        none = inside[:0], outside[:0], np.zeros((len(self.every), 0), dtype=bool)
        kept, broken, near = zip(none, *found, strict=True)
        return np.concatenate(kept), np.concatenate(broken), np.concatenate(near, axis=1)

    def each(self, task: Callable[..., Result], arguments: Sequence[tuple[Any, ...]]) -> list[Result]:
        """What any other task of the same context gives."""
        return self._tasks.of(task, arguments)


def _lots(count: int) -> list[slice]:
    return [slice(start, start + PLACES_TOGETHER) for start in range(0, count, PLACES_TOGETHER)]
