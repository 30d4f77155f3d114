"""Measures at one setting; an angle about a line with the turns that it makes on the way there from all drives at 0."""

from __future__ import annotations

from math import ceil, isfinite

import numpy as np

from assembly.clearance.narrow_phase.pair_result import Setting
from assembly.clearance.proof.joint_search import GRAIN
from assembly.clearance.proof.measure_search import rolling_doubt
from assembly.kinematics.figures import FigureMotion
from assembly.kinematics.joint_motion import nearest_turn
from assembly.kinematics.measure_figures import NO_VALUE, measure_motion
from assembly.kinematics.mechanism import Mechanism, Solved
from assembly.kinematics.rows import Posture
from assembly.kinematics.solver import solve
from assembly.model.measure import Measure
from assembly.record import MeasureAtEntry, VerdictWord

STEP = 15.0
"""degrees or mm of a drive from one posture to the next on the way: no angle turns by half a turn meanwhile."""


def measured_at(mechanism: Mechanism, at: Setting) -> tuple[MeasureAtEntry, ...]:
    """Every measure at the setting ``at``, which can be reached."""
    return tuple(_entry(mechanism, one, at) for one in mechanism.machine.measures.values())


def _entry(mechanism: Mechanism, one: Measure, at: Setting) -> MeasureAtEntry:
    motion = measure_motion(one, mechanism)
    solved = _way_to(mechanism, motion, at)
    value = _value(motion, solved.posture)
    why = rolling_doubt(mechanism, motion, solved.posture.take(np.array([len(solved.settings) - 1])))
    if not isfinite(value):
        why = f"it has no value here: {NO_VALUE[one.kind]}"
    known = float(value) if isfinite(value) else None
    return MeasureAtEntry(one.name, one.unit, known, one.least, one.most, _verdict(one, known, why), why)


def _way_to(mechanism: Mechanism, motion: FigureMotion, at: Setting) -> Solved:
    """The postures on the way from all drives at 0 to ``at``, which is the last; of a turning angle in small steps."""
    far = max((abs(each) for each in at), default=0.0) if motion.turning else 0.0
    steps = max(1, ceil(far / STEP))
    return solve(mechanism, np.linspace(0.0, 1.0, steps + 1)[:, None] * np.array(at, dtype=np.float64))


def _value(motion: FigureMotion, posture: Posture) -> float:
    """Its value at the last posture; past one where it has none nobody knows how many turns it has made."""
    values = motion.values(posture)
    for step in range(1, len(values) if motion.turning else 1):
        values[[step]] = nearest_turn(values[[step]], values[[step - 1]])
    return float(values[-1])


def _verdict(one: Measure, value: float | None, why: str) -> VerdictWord | None:
    low, high = one.limits
    if low is None and high is None:
        return None
    if value is None or why:
        return "undecided"
    kept = (low is None or value >= low - GRAIN) and (high is None or value <= high + GRAIN)
    return "clear" if kept else "fails"
