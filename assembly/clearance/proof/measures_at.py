"""Measures at one setting; an angle about a line with the turns that it makes on the way there from all drives at 0."""

from __future__ import annotations

from math import ceil, isfinite

import numpy as np

from assembly.clearance.narrow_phase.pair_result import Setting
from assembly.clearance.proof.joint_search import GRAIN, Limits
from assembly.clearance.proof.measure_search import rolling_doubt
from assembly.clearance.proof.wheel_search import NO_VALUE as NO_ROAD
from assembly.kinematics.figures import FigureMotion
from assembly.kinematics.joint_motion import nearest_turn
from assembly.kinematics.measure_figures import NO_VALUE, measure_motion
from assembly.kinematics.mechanism import Mechanism, Solved
from assembly.kinematics.rows import Posture
from assembly.kinematics.solver import solve
from assembly.kinematics.wheel_figures import limited_figures, wheel_motion
from assembly.record import MeasureAtEntry, VerdictWord

STEP = 15.0
"""degrees or mm of a drive from one posture to the next on the way: no angle turns by half a turn meanwhile."""


def measured_at(mechanism: Mechanism, at: Setting) -> tuple[MeasureAtEntry, ...]:
    """Every measure, and every figure of wheels with limits all over the range, at ``at``, which can be reached."""
    measures = [
        _entry(mechanism, measure_motion(one, mechanism), one.limits, NO_VALUE.get(one.kind, ""), at)
        for one in mechanism.machine.measures.values()
    ]
    wheels = [
        _entry(mechanism, wheel_motion(mechanism, one), (limit.least, limit.most), NO_ROAD, at)
        for one, limit in limited_figures(mechanism)
        if limit.at is None
    ]
    return (*measures, *wheels)


def _entry(mechanism: Mechanism, motion: FigureMotion, limits: Limits, no_value: str, at: Setting) -> MeasureAtEntry:
    solved = _way_to(mechanism, motion, at)
    value = _value(motion, solved.posture)
    why = rolling_doubt(mechanism, motion, solved.posture.take(np.array([len(solved.settings) - 1])))
    if not isfinite(value):
        why = f"it has no value here: {no_value}"
    known = float(value) if isfinite(value) else None
    return MeasureAtEntry(motion.name, motion.unit, known, *limits, _verdict(limits, known, why), why)


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


def _verdict(limits: Limits, value: float | None, why: str) -> VerdictWord | None:
    low, high = limits
    if low is None and high is None:
        return None
    if value is None or why:
        return "undecided"
    kept = (low is None or value >= low - GRAIN) and (high is None or value <= high + GRAIN)
    return "clear" if kept else "fails"
