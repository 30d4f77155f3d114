"""Figures of wheels over the whole range, bracketed as measures are, and their limits, which fail a machine."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from math import isfinite

import numpy as np

from assembly.clearance.proof.joint_search import GRAIN, JointSearch
from assembly.clearance.proof.measure_search import Asked, Ends, bracketed_figures, drives_of, measured, rolling_doubt
from assembly.kinematics.cell_motion import bound_motion
from assembly.kinematics.figures import FigureMotion
from assembly.kinematics.mechanism import Mechanism, Solved, settings_of
from assembly.kinematics.reduced import submechanism
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
NOT_PROVEN = "how near the posture that is found there is to the true one is not proven"


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
    proven = (None, None) if known is None or solved is None else _proven_at(mechanism, motion, solved)
    low = None if known is None or limit.least is None else known - limit.least
    high = None if known is None or limit.most is None else limit.most - known
    margin = min((each for each in (low, high) if each is not None), default=None)
    unknown = f"{NO_VALUE} there" if solved else search.stopped
    open_ = unknown if known is None else NOT_PROVEN if None in proven else ""
    why = rolling_doubt(mechanism, motion, posture) or open_
    settings, sure = settings_of(machine, setting), not why
    fails = margin is not None and margin < -GRAIN
    kept = _kept(limit, proven)
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
        proven_least=proven[0] if sure else None,
        proven_most=proven[1] if sure else None,
        limit_low=limit.least,
        limit_high=limit.most,
        margin=margin,
        at=settings if margin is not None else {},
        drives=drives_of(mechanism, motion),
        verdict="fails" if sure and fails else "clear" if sure and kept else "undecided",
        why=why,
    )


def _proven_at(mechanism: Mechanism, motion: FigureMotion, solved: Solved) -> Ends:
    """Bounds on the figure at the posture that is proven to exist there, next to the one that was ``solved``.

    They are those of a cell of no width, so all that they leave open is by how much the solver may miss.
    """
    reduced = submechanism(mechanism, *motion.bodies)
    index, bodies = np.arange(1), reduced.bodies.tolist()
    own = replace(solved, settings=reduced.narrowed(solved.settings), posture=solved.posture.of_bodies(index, bodies))
    cell = bound_motion(reduced.mechanism, own, np.zeros_like(own.settings))
    within = motion.among(bodies)
    span = within.span(cell, within.values(own.posture))
    return _finite(float(span.low[0])), _finite(float(span.high[0]))


def _kept(limit: FigureLimit, proven: Ends) -> bool:
    """Whether both limits are proven to be kept."""
    least, most = proven
    low = limit.least is None or (least is not None and least >= limit.least - GRAIN)
    return low and (limit.most is None or (most is not None and most <= limit.most + GRAIN))


def _finite(value: float) -> float | None:
    return value if isfinite(value) else None
