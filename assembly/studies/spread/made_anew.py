"""Figures of machines that are made anew with other dimensions, at the settings that govern them as drawn.

Each machine is read, put together and solved like any other; nothing is taken from the slopes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.stats import beta, chi2

from assembly.clearance.narrow_phase.checked_pairs import CheckedPair, PairRules
from assembly.clearance.narrow_phase.distance import CollisionModel, nearest
from assembly.clearance.tolerances.readings import Tolerance
from assembly.errors import AssemblyError, InputError
from assembly.geometry.mesh import Floats
from assembly.kinematics.assembling import assemble
from assembly.kinematics.joint_limits import limits_of
from assembly.kinematics.measure_figures import measure_motion
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.roll_columns import with_rolls
from assembly.kinematics.rows import Posture
from assembly.kinematics.solver import solve
from assembly.model.machine import Machine
from assembly.progress import Progress
from assembly.record import FigureEntry, SampledEntry, Settings

CONFIDENCE = 0.95
"""Of the limits of what random machines show."""
SIGMAS = 6
"""Standard deviations from end to end of a tolerance."""
STAGE = "machines made anew"


@dataclass(eq=False)
class MadeAnew:
    """Measures ``figures`` of a machine with other dimensions."""

    machine: Machine
    figures: Sequence[FigureEntry]
    tolerances: Sequence[Tolerance]
    _known: dict[tuple[float, ...], Floats] = field(default_factory=dict)

    def values(self, changes: Sequence[float]) -> Floats:
        """The margin of every figure (f,) with dimensions so much off; NaN where it has none, or is not reached."""
        key = tuple(changes)
        if key not in self._known:
            self._known[key] = self._values(key)
        return self._known[key]

    def _values(self, changes: tuple[float, ...]) -> Floats:
        found = np.full(len(self.figures), np.nan)
        numbers = {one.name: one.off_by(change) for one, change in zip(self.tolerances, changes, strict=True)}
        try:
            made = assemble(self.machine.with_dimensions(**numbers))
        except (AssemblyError, InputError):
            return found
        rolled = with_rolls(made, [number for number, roll in enumerate(made.idle) if not roll.clamped])
        asked = [k for k, one in enumerate(self.figures) if one.places]
        if not asked:
            return found
        solved = solve(rolled, np.array([_wide(rolled, self.figures[k].places[0].at) for k in asked]))
        own = _Figures(rolled)
        for row, k in enumerate(asked):
            if solved.reached[row]:
                found[k] = own.margin(self.figures[k], solved.posture.take(np.array([row])))
        return found


def _wide(mechanism: Mechanism, at: Settings) -> Floats:
    return np.array([at.get(name, 0.0) for name in mechanism.machine.drives])


class _Figures:
    """Figures of one machine at postures."""

    def __init__(self, mechanism: Mechanism) -> None:
        self.mechanism = mechanism
        self._rules = PairRules(mechanism.machine, mechanism.bodies)
        self._models: dict[object, CollisionModel] = {}

    def margin(self, figure: FigureEntry, posture: Posture) -> float:
        """What is left of the figure's rule; NaN for a figure of which this is not known."""
        if figure.kind == "pair":
            return self._pair(figure, posture)
        if figure.kind == "joint":
            limits = [one for one in limits_of(self.mechanism) if (one.joint, one.motion.name) == _joint(figure)]
            return float(limits[0].reserve(posture)[0]) if limits and limits[0].rod is None else np.nan
        if figure.kind == "measure":
            return self._measure(figure, posture)
        return np.nan

    def _pair(self, figure: FigureEntry, posture: Posture) -> float:
        pair = self._rules.sorted(*figure.names)
        if not isinstance(pair, CheckedPair) or figure.verdict == "fails":
            return np.nan
        for trim in (pair.trim_a, pair.trim_b):
            if trim not in self._models:
                self._models[trim] = CollisionModel(self._rules.solids[trim])
        places = (self.mechanism.world_from_rest(posture, part)[0] for part in (pair.a, pair.b))
        found = nearest(self._models[pair.trim_a], self._models[pair.trim_b], *places)
        return found.distance - pair.required

    def _measure(self, figure: FigureEntry, posture: Posture) -> float:
        one = self.mechanism.machine.measures[figure.names[0]]
        value = float(measure_motion(one, self.mechanism).values(posture)[0])
        low, high = one.limits
        if figure.motion == "least" and low is not None:
            return value - low
        return high - value if figure.motion == "most" and high is not None else value


def _joint(figure: FigureEntry) -> tuple[str, str]:
    return figure.names[0], figure.motion


def drawn_at_random(tolerances: Sequence[Tolerance], count: int, seed: int) -> Floats:
    """How far off (count, k) the dimensions of random machines are: normal, ``SIGMAS`` deviations in each tolerance."""
    random = np.random.default_rng(seed)
    low, high = np.array([one.low for one in tolerances]), np.array([one.high for one in tolerances])
    return np.asarray((low + high) / 2 + random.standard_normal((count, len(low))) * (high - low) / SIGMAS)


def sampled(anew: MadeAnew, count: int, seed: int, progress: Progress) -> list[SampledEntry | None]:
    """Every figure over ``count`` random machines; None for one of which nothing is known."""
    rows = []
    for number, changes in enumerate(drawn_at_random(anew.tolerances, count, seed)):
        progress(STAGE, number, count)
        rows.append(anew.values(changes.tolist()))
    every = np.array(rows).reshape(count, len(anew.figures))
    return [sampled_entry(values, figure) for values, figure in zip(every.T, anew.figures, strict=True)]


def sampled_entry(values: Floats, figure: FigureEntry) -> SampledEntry | None:
    """What random machines show of ``figure``, from its ``values`` (N,); None of fewer than two."""
    known = values[np.isfinite(values)]
    if len(known) < 2:
        return None
    count, deviation = len(known), float(known.std(ddof=1))
    ends = chi2.ppf([(1 + CONFIDENCE) / 2, (1 - CONFIDENCE) / 2], count - 1)
    low, high = (deviation * float(np.sqrt((count - 1) / end)) for end in ends)
    made = SampledEntry(count, float(known.mean()), deviation, low, high)
    if figure.kind == "stop" or figure.motion == "value":
        return made
    broken = int((known < 0).sum())
    tail = (1 - CONFIDENCE) / 2
    least = float(beta.ppf(tail, broken, count - broken + 1)) if broken else 0.0
    most = float(beta.ppf(1 - tail, broken + 1, count - broken)) if broken < count else 1.0
    return SampledEntry(count, float(known.mean()), deviation, low, high, broken / count, least, most)
