"""What runs out first on the way from rest to the end of a drive, for each of many settings of the other drives.

Looked at step by step on a lattice of settings and then closed in on: found, not proven.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from copy import copy
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import partial

import numpy as np
from numpy.typing import NDArray

from assembly.clearance.centres import Centres
from assembly.clearance.outcome import Setting
from assembly.clearance.pairs import Pairs
from assembly.clearance.polish import distances_at
from assembly.clearance.queries import Bench
from assembly.clearance.search import PairSearch
from assembly.clearance.stock import Boxes, Stock
from assembly.clearance.survey import ROOM, Survey
from assembly.geometry.mesh import Floats
from assembly.model.machine import Joint
from assembly.motion.bodies import moving_joints
from assembly.motion.joint_motion import JointMotion, motions_of
from assembly.motion.mechanism import Mechanism
from assembly.motion.solver import follow, solve

STEPS = 24
"""Steps from rest to the end of a drive."""
SHORT_OF_LOCK = 0.9999
"""Share of the way to where the machine locks, at which pairs and joints are still looked at."""
HAIR = 0.02
"""mm that a stop leaves over what must be proven."""
TOGETHER = 5
"""Steps looked at in one go: ways that have ended are not gone on."""
BISECTIONS = 14
Flags = NDArray[np.bool_]

TOUCH = 1e-6
"""mm: a pair that need keep no clearance must still not touch."""


class Cause(StrEnum):
    """What ends a way."""

    PAIR = "pair"
    """Two parts come nearer than they must keep."""
    JOINT = "joint"
    """A joint comes nearer to its limit than it must keep."""
    LOOP = "loop"
    """The machine locks, folds over or cannot be assembled."""
    RANGE = "range"
    """Nothing before the end of the range that the file asks for."""
    END = "end"
    """Nothing, as far as was looked."""


@dataclass(frozen=True, slots=True)
class RunOut:
    """The end of one way: the setting ``at`` which it ends, and what ends it (parts or a joint, by name).

    ``kept`` mm or degrees are asked for; ``pace``: how many of them are lost per unit of the drive there.
    """

    cause: Cause
    at: Setting
    names: tuple[str, ...] = ()
    kept: float = 0.0
    pace: float = 0.0
    shapes: tuple[str, str] = ("", "")


@dataclass(frozen=True, slots=True, eq=False)
class Limited:
    """A joint's motion that must stay within ``low`` to ``high``, in its unit."""

    joint: Joint
    motion: JointMotion
    low: float
    high: float

    def reserve(self, values: Floats) -> Floats:
        """What is left (N,) to the nearer limit."""
        return np.minimum(values - self.low, self.high - values)


def limited_motions(mechanism: Mechanism) -> list[Limited]:
    """The motions of joints that have a limit."""
    return [
        Limited(joint, motion, -np.inf, joint.misalignment)
        for joint in moving_joints(mechanism.machine)
        for motion in motions_of(joint, mechanism.bodies)
        if motion.name == "misalignment" and joint.misalignment is not None
    ]


def moving_pairs(pairs: Pairs) -> Pairs:
    """Those of ``pairs`` that move against each other."""
    moving = tuple(pair for pair in pairs.checked if not pair.still)
    trims = {trim for pair in moving for trim in (pair.trim_a, pair.trim_b)}
    return replace(pairs, checked=moving, solids={t: solid for t, solid in pairs.solids.items() if t in trims})


def _provable(search: PairSearch) -> float:
    """What a pair must keep, and a hair more, so that it can be proven of the surfaces as they are drawn."""
    return search.pair.required + search.a.surface_error + search.b.surface_error + HAIR


def _keeping(stock: Stock, clearance: float | None) -> Stock:
    """``stock`` with each pair to keep at least ``clearance`` mm; None: only not to touch."""
    kept = copy(stock)
    kept.searches = [
        PairSearch(
            replace(one.pair, required=0.0 if clearance is None else max(_provable(one), clearance)),
            one.a,
            one.b,
            one.carriers,
        )
        for one in stock.searches
    ]
    return kept


class Ways:
    """Ways from rest along one drive, for many settings of the others.

    ``clearance`` and ``reserve``: what pairs and joints must keep (mm, None for pairs that must only not touch; mm or
    degrees). ``bench`` measures the solids of ``stock``.
    """

    def __init__(
        self, mechanism: Mechanism, stock: Stock, bench: Bench, clearance: float | None, reserve: float
    ) -> None:
        self.mechanism, self.stock, self.bench, self.reserve = mechanism, _keeping(stock, clearance), bench, reserve
        self.limited = limited_motions(mechanism)

    def run_out(self, column: int, end: float, others: Floats) -> list[RunOut]:
        """What ends each of M ways of drive ``column`` from rest to its setting ``end``, in the order of ``others``.

        ``others`` (M, d), a whole lattice: the settings of the other drives.
        """
        steps = np.linspace(0.0, end, STEPS + 1)
        lattice = np.repeat(others[None], len(steps), axis=0)
        lattice[:, :, column] = steps[:, None]
        ended: dict[int, RunOut] = {}
        for start in range(0, len(steps), TOGETHER):
            short = self._short(lattice[start : start + TOGETHER])
            for row in range(len(others)):
                bad = np.flatnonzero(short[:, row])
                if row not in ended and len(bad):
                    step = start + int(bad[0])
                    ended[row] = self._first(lattice[max(step - 1, 0), row], lattice[step, row])
            if len(ended) == len(others):
                break
        return [ended.get(row) or RunOut(Cause.END, _setting(lattice[-1, row])) for row in range(len(others))]

    def _short(self, lattice: Floats) -> Flags:
        """Where (S, M) in a lattice (S, M, d) something comes too near, or to an end."""
        shape = lattice.shape[:2]
        solved = solve(self.mechanism, lattice.reshape(-1, lattice.shape[2]))
        rooms = Centres(Survey(self.mechanism, self.stock, self.bench), solved, ceiling=TOUCH).found[ROOM]
        short = ~solved.reached | (rooms < TOUCH)
        for limited in self.limited:
            short |= limited.reserve(limited.motion.values(solved.posture)) < self.reserve
        return np.asarray(short.reshape(shape))

    def _first(self, clear: Floats, short: Floats) -> RunOut:
        """What runs out first between a setting (d,) where nothing has and one where something has."""
        found = []
        if not solve(self.mechanism, short[None]).reached[0]:
            way = follow(self.mechanism, solve(self.mechanism, clear[None]), np.zeros(1, dtype=np.intp), short[None])
            locked = clear + float(way.share[0]) * (short - clear)
            found.append(RunOut(Cause.LOOP, _setting(locked)))
            short = clear + SHORT_OF_LOCK * (locked - clear)
        found += [*self._pairs(clear, short), *self._joints(clear, short)]
        return min(found, key=lambda one: float(np.abs(np.array(one.at) - clear).sum()))

    def _pairs(self, clear: Floats, short: Floats) -> Iterable[RunOut]:
        near = self._near_pairs(short)
        if not near:
            return
        kept = np.array([max(search.pair.required, TOUCH) for search in near])

        def holds(settings: Floats) -> Flags:
            return np.asarray(self._distances(near, settings) < kept)

        at = _closed_in(holds, clear, short, len(near))
        back = at - 1e-3 * (short - clear)
        lost = self._distances(near, back) - self._distances(near, at)
        gone = np.abs(at - back).sum(axis=1)
        for search, setting, less, way in zip(near, at, lost, gone, strict=True):
            pair = search.pair
            pace = float(less / way) if way > 0 else 0.0
            yield RunOut(Cause.PAIR, _setting(setting), (pair.a, pair.b), pair.required, pace)

    def _near_pairs(self, setting: Floats) -> list[PairSearch]:
        """The pairs that are nearer than they must be at one setting (d,)."""
        solved = solve(self.mechanism, setting[None])
        boxes = Boxes(self.mechanism, solved.posture)
        whole = Survey(self.mechanism, self.stock, self.bench).wholes
        searches = [one.search for one in whole if boxes.gaps(one)[0] <= max(one.search.pair.required, TOUCH)]
        distances = distances_at(self.mechanism, self.bench, searches, [setting[None]] * len(searches))
        return [
            search
            for search, found in zip(searches, distances, strict=True)
            if found[0] < max(search.pair.required, TOUCH)
        ]

    def _distances(self, searches: Sequence[PairSearch], settings: Floats) -> Floats:
        found = distances_at(self.mechanism, self.bench, searches, [setting[None] for setting in settings])
        return np.concatenate(found)

    def _joints(self, clear: Floats, short: Floats) -> Iterable[RunOut]:
        for limited in self.limited:
            if self._left(limited, short[None])[0] < self.reserve:
                at = _closed_in(partial(self._past, limited), clear, short, 1)
                back = at - 1e-3 * (short - clear)
                way = float(np.abs(at - back).sum())
                lost = float((self._left(limited, back) - self._left(limited, at))[0])
                pace = lost / way if way > 0 else 0.0
                yield RunOut(Cause.JOINT, _setting(at[0]), (limited.joint.name,), self.reserve, pace)

    def _past(self, limited: Limited, settings: Floats) -> Flags:
        return np.asarray(self._left(limited, settings) < self.reserve)

    def _left(self, limited: Limited, settings: Floats) -> Floats:
        return limited.reserve(limited.motion.values(solve(self.mechanism, settings).posture))


def _closed_in(holds: Callable[[Floats], Flags], clear: Floats, short: Floats, count: int) -> Floats:
    """Where (K, d) each of ``count`` conditions begins to hold between ``clear`` and ``short`` (d,)."""
    low, high = np.tile(clear, (count, 1)), np.tile(short, (count, 1))
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        true = holds(middle)[:, None]
        low, high = np.where(true, low, middle), np.where(true, middle, high)
    return high


def _setting(values: Floats) -> Setting:
    return tuple(float(value) for value in values)
