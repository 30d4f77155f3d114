"""Figures of wheels over the whole range, bracketed as measures are, and their limits, which fail a machine."""

from __future__ import annotations

from collections.abc import Mapping
from math import isfinite

import numpy as np

from assembly.clearance.proof.joint_search import GRAIN, JointSearch
from assembly.clearance.proof.measure_search import Asked, bracketed_figures, drives_of, measured, rolling_doubt
from assembly.kinematics.mechanism import Mechanism, settings_of
from assembly.kinematics.solver import solve
from assembly.kinematics.wheel_figures import WheelFigure, limit_name, limited_figures, wheel_figures, wheel_motion
from assembly.model.wheel import FigureLimit, WheelWord
from assembly.record import MeasureEntry

KIND = "wheel"
"""What kind of measure a wheel's figure is in a record."""
MOST_CHILDREN = 1500
"""Cells that may be cut for each figure where all are told at once."""
SWEPT_CHILDREN = 200
SWEPT_BRACKET = 0.5
"""degrees or mm: how close a sweep brings what is proven of a figure without limits to what was found."""
NOT_SWEPT = (WheelWord.TOE_MM, WheelWord.TOTAL_TOE_MM)
"""A sweep tells the same in degrees."""
NO_VALUE = "it does not stand on a road, or a wheel or kingpin lies flat,"
EXACT = 1e-6
"""degrees or mm by which a figure at one setting may be wrong."""


def all_measured(mechanism: Mechanism, search: JointSearch, *, judged_only: bool = False) -> tuple[MeasureEntry, ...]:
    """Every measure, every figure of wheels that has a limit and, unless ``judged_only``, the others less closely."""
    found = (*measured(mechanism, search), *limits_measured(mechanism, search))
    if judged_only:
        return found
    told = {one.name for one in found}
    rest = [one for one in wheel_figures(mechanism) if one.name not in told and one.word not in NOT_SWEPT]
    every = [(_asked(one, None), wheel_motion(mechanism, one)) for one in rest]
    if not every:
        return found
    return (*found, *bracketed_figures(mechanism, search, every, SWEPT_CHILDREN, SWEPT_BRACKET))


def limits_measured(mechanism: Mechanism, search: JointSearch) -> tuple[MeasureEntry, ...]:
    """The figures of wheels that have limits: over the range, and at one setting where a limit is of that alone."""
    limited = list(limited_figures(mechanism))
    wide = [(_asked(one, limit), wheel_motion(mechanism, one)) for one, limit in limited if limit.at is None]
    narrow = [_at_setting(mechanism, search, one, limit, limit.at) for one, limit in limited if limit.at is not None]
    return (*(bracketed_figures(mechanism, search, wide) if wide else ()), *narrow)


def figures_measured(mechanism: Mechanism, search: JointSearch) -> tuple[MeasureEntry, ...]:
    """All figures of wheels over the range; those with limits over it are held to them."""
    limits = {one.name: limit for one, limit in limited_figures(mechanism) if limit.at is None}
    every = [(_asked(one, limits.get(one.name)), wheel_motion(mechanism, one)) for one in wheel_figures(mechanism)]
    found = bracketed_figures(mechanism, search, every, MOST_CHILDREN)
    narrow = [
        _at_setting(mechanism, search, one, limit, limit.at)
        for one, limit in limited_figures(mechanism)
        if limit.at is not None
    ]
    return (*found, *narrow)


def _asked(one: WheelFigure, limit: FigureLimit | None) -> Asked:
    ends = (limit.least, limit.most) if limit else (None, None)
    return Asked(one.name, KIND, one.of_wheels, one.unit, ends, no_value=NO_VALUE)


def _at_setting(
    mechanism: Mechanism, search: JointSearch, one: WheelFigure, limit: FigureLimit, at: Mapping[str, float]
) -> MeasureEntry:
    """A figure at one setting, held to the limits that are given there."""
    machine, motion = mechanism.machine, wheel_motion(mechanism, one)
    setting = tuple(float(at.get(name, 0.0)) for name in machine.drives)
    solved = None
    with search.in_time():
        solved = solve(mechanism, np.array([setting]).reshape(1, -1))
    posture = solved.posture if solved else mechanism.home
    known = _finite(float(motion.values(posture)[0]) if solved and solved.reached[0] else np.nan)
    low = None if known is None or limit.least is None else known - limit.least
    high = None if known is None or limit.most is None else limit.most - known
    margin = min((each for each in (low, high) if each is not None), default=None)
    unknown = f"{NO_VALUE} there" if solved else search.stopped
    why = rolling_doubt(mechanism, motion, posture) or ("" if known is not None else unknown)
    settings, sure = settings_of(machine, setting), known is not None and not why
    fails = margin is not None and margin < -GRAIN
    return MeasureEntry(
        name=limit_name(one.name, limit),
        kind=KIND,
        of=one.of_wheels,
        unit=one.unit,
        zero=_finite(float(motion.values(mechanism.home)[0])),
        least=known,
        most=known,
        at_least=settings,
        at_most=settings,
        proven_least=known - EXACT if known is not None and sure else None,
        proven_most=known + EXACT if known is not None and sure else None,
        limit_low=limit.least,
        limit_high=limit.most,
        margin=margin,
        at=settings if margin is not None else {},
        drives=drives_of(mechanism, motion),
        verdict="undecided" if not sure else "fails" if fails else "clear",
        why=why,
    )


def _finite(value: float) -> float | None:
    return value if isfinite(value) else None
