"""Which readings contradict each other: each is held against what all others say of it.

With h the share that a reading decides itself, its residual without it is r / (1 - h), and w = r / (σ √(1 - h)) is
normal with deviation 1 if the reading is as good as it says. Source: common practice of survey adjustment (data
snooping), confirmed by fits that leave the suspect out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assembly.geometry.mesh import Floats
from assembly.studies.survey.adjustment import SIGMAS, Adjustment, adjusted, all_of, without
from assembly.studies.survey.observed import ObservedMachine

SUSPECT = 3.3
"""Standard deviations: one of a thousand good readings is farther off."""
UNCHECKED = 1e-3
"""What others say of a reading by less than this share says nothing."""
RIVAL = 6.0
"""In sums of squares: a reading that explains the disagreement no worse than this is as likely the wrong one."""
MOST_TRIED = 4


@dataclass(frozen=True, slots=True, eq=False)
class Contradictions:
    """The solution without the readings that are ``wrong``, by their places in the order in which they were found.

    ``doubtful``: of these one is wrong, and which cannot be told; all are used.
    """

    solution: Adjustment
    wrong: tuple[int, ...]
    doubtful: tuple[int, ...]


def contradictions(observed: ObservedMachine) -> Contradictions:
    """Leave out one reading after another until the rest agree, as long as it can be told which is wrong."""
    solution, wrong = adjusted(observed, all_of(observed)), tuple[int, ...]()
    while True:
        suspects = _suspects(solution)
        if not suspects:
            return Contradictions(solution, wrong, ())
        robust = adjusted(observed, solution.used, solution.numbers, robust=True, exactly=False)
        tried = {
            one: adjusted(observed, without(solution.used, [one]), robust.numbers, exactly=False)
            for one in _ranked(suspects, robust)[:MOST_TRIED]
        }
        best = min(tried, key=lambda one: tried[one].disagreement)
        rivals = [one for one in tried if tried[one].disagreement <= tried[best].disagreement + RIVAL]
        if len(rivals) > 1:
            return Contradictions(solution, wrong, tuple(sorted({*rivals, *_alike(solution, rivals)})))
        solution, wrong = adjusted(observed, tried[best].used, tried[best].numbers), (*wrong, best)


def scores(solution: Adjustment) -> Floats:
    """How many standard deviations (o,) each reading is from what the others used say; NaN where they say nothing.

    A reading that is not used is held against those that are.
    """
    checked = np.where(solution.used, 1.0 - solution.leverage, 1.0 + _predicted(solution))
    found = SIGMAS * np.abs(solution.residuals) / np.sqrt(np.maximum(checked, UNCHECKED))
    return np.asarray(np.where(checked > UNCHECKED, found, np.nan))


def said_by_others(solution: Adjustment, errors: Floats, readings: Floats) -> tuple[Floats, Floats]:
    """What the others say of each reading (o,), and how far off that may be; NaN where they say nothing."""
    h = solution.leverage
    free = np.where(solution.used, 1.0 - h, 1.0)
    known = free > UNCHECKED
    free = np.maximum(free, UNCHECKED)
    value = readings + errors * solution.residuals / free
    own = np.where(solution.used, np.sqrt(h / free), np.sqrt(_predicted(solution)))
    return np.where(known, value, np.nan), np.where(known, errors * own * solution.inflation, np.nan)


def _predicted(solution: Adjustment) -> Floats:
    """The variance (o,) that the numbers leave to what each reading comes to, in squares of its error."""
    return np.asarray((solution.spread_of(solution.scaled) ** 2).sum(axis=1))


def _suspects(solution: Adjustment) -> list[int]:
    """Readings that are used and too far from what the others say."""
    found = scores(solution)
    return [k for k in np.flatnonzero(solution.used).tolist() if found[k] > SUSPECT]


def _ranked(suspects: list[int], robust: Adjustment) -> list[int]:
    """The worst first, by a fit in which those far off count less."""
    return sorted(suspects, key=lambda one: -abs(float(robust.residuals[one])))


def _alike(solution: Adjustment, rivals: list[int]) -> list[int]:
    """Suspects that stand as far from the others as any of the ``rivals``."""
    found = scores(solution)
    least = min(found[one] for one in rivals)
    return [one for one in _suspects(solution) if found[one] ** 2 >= least**2 - RIVAL]
