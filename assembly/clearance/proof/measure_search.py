"""Measures over the whole range, bracketed as the motions of joints are: found, proven, and what stays open."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import isfinite

import numpy as np

from assembly.clearance.proof.joint_search import GRAIN, Extremes, JointSearch
from assembly.clearance.proof.motion_bounds import BoundTerms
from assembly.clearance.proof.reduced_motion import reduced_motion
from assembly.kinematics.figures import FigureMotion
from assembly.kinematics.idle_rolls import rolled_about
from assembly.kinematics.joint_motion import JointMotion, nearest_turn
from assembly.kinematics.measure_figures import NO_VALUE, measure_motion
from assembly.kinematics.mechanism import Mechanism, settings_of
from assembly.kinematics.roll_bearing import bears_on, ways_of
from assembly.kinematics.rows import Posture
from assembly.model.machine import Machine
from assembly.model.measure import Measure
from assembly.record import MeasureEntry, MeasureTermsEntry, VerdictWord
from assembly.record.measure_entries import NOT_CLOSE

BRACKET = 0.01
"""degrees or mm: how near what is proven comes to what was found."""
MOST_CHILDREN = 5000
"""Cells that may be cut out of others for each measure."""
ROLLS = (37.0, 101.0, 180.0)
"""degrees by which a part that can roll is turned, to see whether a measure notes it."""
SEEN_ROLLING = 1e-6
"""degrees or mm: a change by less is none."""


Ends = tuple[float | None, float | None]
"""Least and most; None where it is not known."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """Why figures do not hold for the machine as it is, empty where they do: a part that rolls, and the time.

    ``unproven``: the share of the range in which the motion is not proven.
    """

    rolling: str = ""
    stopped: str = ""
    unproven: float = 0.0
    bracket: float = BRACKET


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked of a figure: ``limits``, and whether whole turns count; ``of``: the words for what it is of.

    ``no_value``: why it has no value where it has none.
    """

    name: str
    kind: str
    of: tuple[str, ...]
    unit: str
    limits: Ends = (None, None)
    is_turn: bool = False
    no_value: str = ""


def asked_of(one: Measure) -> Asked:
    """A measure of the file."""
    of = tuple(each.words for each in (*one.features, *([one.axis] if one.axis else ())))
    return Asked(one.name, one.kind.value, of, one.unit, one.limits, one.is_turn, NO_VALUE.get(one.kind, ""))


def measured(
    mechanism: Mechanism, search: JointSearch, wanted: Sequence[Measure] | None = None
) -> tuple[MeasureEntry, ...]:
    """The ``wanted`` measures, by default all, over the range of the machine's drives, on the cells of ``search``."""
    wanted = [*mechanism.machine.measures.values()] if wanted is None else wanted
    return bracketed_figures(mechanism, search, [(asked_of(one), measure_motion(one, mechanism)) for one in wanted])


def bracketed_figures(
    mechanism: Mechanism,
    search: JointSearch,
    every: Sequence[tuple[Asked, FigureMotion]],
    most_children: int = MOST_CHILDREN,
    bracket: float = BRACKET,
) -> tuple[MeasureEntry, ...]:
    """Figures over the range of the drives, found, and proven to within a ``bracket`` in their units."""
    moving = [(one, motion) for one, motion in every if drives_of(mechanism, motion)]
    own = replace(search, children_left=most_children * len(moving), stopped="")
    found = iter(own.extremes([(motion, one.limits) for one, motion in moving], bracket))
    postures = search.seen.posture if len(search.seen.settings) else mechanism.home
    told = []
    for one, motion in every:
        zero = float(motion.values(mechanism.home)[0])
        drives = drives_of(mechanism, motion)
        extremes = next(found) if drives else still(mechanism, zero)
        unproven = unproven_share(own, motion) if drives else 0.0
        doubt = Doubt(rolling_doubt(mechanism, motion, postures), own.stopped, unproven, bracket)
        told.append(_entry(mechanism.machine, one, zero, drives, extremes, doubt))
    search.stopped = search.stopped or own.stopped  # who keeps what is found looks there
    return tuple(told)


def unproven_share(search: JointSearch, motion: JointMotion) -> float:
    """The share of the range in which the motion is not proven; all of it if there was no time to make its cells."""
    with search.in_time():
        return reduced_motion(search.groups, motion).cells.unresolved_share()
    return 1.0


def drives_of(mechanism: Mechanism, motion: JointMotion) -> tuple[str, ...]:
    """The drives that can move a measure."""
    first, *others = motion.bodies
    moving = [mechanism.system.drives_between(first, other) for other in others]
    numbers = np.flatnonzero(np.any(moving, axis=0)) if moving else ()
    names = list(mechanism.machine.drives)
    return tuple(names[number] for number in numbers)


def still(mechanism: Mechanism, zero: float) -> Extremes:
    """What no drive moves is everywhere as it is with all drives at 0."""
    at = (0.0,) * len(mechanism.machine.drives)
    bounds = (zero, zero) if isfinite(zero) else (-np.inf, np.inf)
    return Extremes(zero, zero, at, at, *bounds, np.array([zero]))


def rolling_doubt(mechanism: Mechanism, motion: JointMotion, posture: Posture) -> str:
    """What is to be said where a part that can roll about its own line bears on the measure at one of the postures.

    With all drives at 0 alone it may not: along a rod that lies level a level coordinate is the same at every roll. Of
    cables it is known from where their points lie, since a hose that is long enough hides it at most settings.
    """
    known, ways = motion.values(posture), ways_of(motion)
    for roll in mechanism.idle:
        if roll.clamped or not set(roll.bodies) & set(motion.bodies):
            continue
        turned = [motion.values(rolled_about(mechanism.home, posture, roll, degrees)) for degrees in ROLLS]
        if motion.turning:
            turned = [nearest_turn(values, known) for values in turned]
        with np.errstate(invalid="ignore"):  # where it is beyond all bounds it has no value
            seen = np.nanmax(np.abs(np.subtract(turned, known)), initial=0.0) > SEEN_ROLLING
        if seen or any(bears_on(mechanism, roll, way) for way in ways):
            names = " with ".join(name for body in roll.bodies for name in mechanism.bodies.members[body])
            return f"{names} can roll about its own line; this is told at its shortest turn from the zero position"
    return ""


def _entry(
    machine: Machine, one: Asked, zero: float, drives: tuple[str, ...], found: Extremes | None, doubt: Doubt
) -> MeasureEntry:
    seen, proven = _known(one, found, doubt)
    ends = (found.at_least, found.at_most) if found else ((), ())
    at = [settings_of(machine, end) if value is not None else {} for end, value in zip(ends, seen, strict=True)]
    left = _left(one, seen)
    margin = min((each for each in left if each is not None), default=None)
    verdict = _verdict(one, margin, proven, doubt)
    lost = verdict == "undecided" or None in proven or doubt.unproven > 0 or _apart(seen, proven, doubt.bracket)
    terms = [_terms(machine, each) for each in (found.governs if found and found.governs else (None, None))]
    return MeasureEntry(
        name=one.name,
        kind=one.kind,
        of=one.of,
        unit=one.unit,
        zero=zero if isfinite(zero) else None,
        least=seen[0],
        most=seen[1],
        at_least=at[0],
        at_most=at[1],
        proven_least=proven[0],
        proven_most=proven[1],
        limit_low=one.limits[0],
        limit_high=one.limits[1],
        margin=margin,
        at={} if margin is None else at[0] if margin == left[0] else at[1],
        drives=drives,
        verdict=verdict,
        why=doubt.rolling or (_why(machine, one, found, doubt) if lost else ""),
        least_terms=terms[0],
        most_terms=terms[1],
    )


def _left(one: Asked, seen: Ends) -> Ends:
    """What is left of either limit."""
    (low, high), (least, most) = one.limits, seen
    return (
        None if low is None or least is None else least - low,
        None if high is None or most is None else high - most,
    )


def _known(one: Asked, found: Extremes | None, doubt: Doubt) -> tuple[Ends, Ends]:
    """The least and most found, and proven; None where they are not known.

    Past a setting at which an angle about an axis has no value it is not known how many turns it has made.
    """
    if found is None:
        return (None, None), (None, None)
    proven = _finite(found.proven_least), _finite(found.proven_most)
    if one.is_turn and None in proven:
        return (None, None), (None, None)
    return (_finite(found.least), _finite(found.most)), ((None, None) if doubt.rolling else proven)


def _apart(seen: Ends, proven: Ends, bracket: float) -> bool:
    """Whether a bound stayed farther from what was found than the bracket that is promised."""
    both = [
        (found, bound) for found, bound in zip(seen, proven, strict=True) if found is not None and bound is not None
    ]
    return any(abs(found - bound) > bracket + GRAIN for found, bound in both)


def _verdict(one: Asked, margin: float | None, proven: Ends, doubt: Doubt) -> VerdictWord | None:
    """Whether the limits are proven to be kept, or a setting shows one passed; None without limits."""
    (low, high), (least, most) = one.limits, proven
    if low is None and high is None:
        return None
    kept = low is None or (least is not None and least >= low - GRAIN)
    kept &= high is None or (most is not None and most <= high + GRAIN)
    if kept and not doubt.unproven:
        return "clear"
    return "fails" if margin is not None and margin < -GRAIN and not doubt.rolling else "undecided"


def _why(machine: Machine, one: Asked, found: Extremes | None, doubt: Doubt) -> str:
    """Why a bound or the answer is open."""
    if doubt.stopped or found is None:
        return doubt.stopped or "it was not measured anywhere"
    lost = [each for each in found.governs or () if not isfinite(each.bound) or not np.isfinite(each.terms).all()]
    if lost and one.no_value:
        at = ", ".join(f"{name} {value:z.4g}" for name, value in settings_of(machine, lost[0].at).items())
        return f"it has no value near {at}: {one.no_value} there"
    if doubt.unproven:
        share = f"{max(100 * doubt.unproven, 0.01):z.2f} %"
        return f"in {share} of the range the machine may lock, or its motion is not proven"
    return NOT_CLOSE


def _terms(machine: Machine, found: BoundTerms | None) -> MeasureTermsEntry | None:
    if found is None or not np.isfinite(found.terms).all():
        return None
    return MeasureTermsEntry(settings_of(machine, found.at), settings_of(machine, found.half), *found.terms)


def _finite(value: float) -> float | None:
    return float(value) if isfinite(value) else None
