"""Pairs whose distance is the same at every setting: no setting shows their least, for all do.

Nowhere less is proven by the sweep; that it is nowhere more is seen at settings spread over the range. No rule rests on
that: it only says that the setting of the least is no place of its own.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from assembly.clearance.narrow_phase.pair_result import PairResult
from assembly.clearance.narrow_phase.witness import Witnesses
from assembly.clearance.proof.pair_state import PairState
from assembly.geometry.mesh import Floats
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rows import Posture
from assembly.kinematics.solver import solve
from assembly.studies.sweep.check import CheckResult

LOOKS = (6, 58)
"""Settings at which a pair is measured: a few that settle most pairs, then the rest."""
SAME_MM = 1e-3
"""What distances may differ by besides the surface errors: facets that turn past each other do not stay as they are."""


def constant_pairs(checked: CheckResult) -> frozenset[tuple[str, str]]:
    """The names of the pairs that are as far apart everywhere as where they are nearest. Raises TimeLimitError."""
    mechanism, states = checked.mechanism, {state.pair: state for state in checked.swept.states}
    results = [one.result for one in checked.found]
    still = {(one.pair.a, one.pair.b) for one in results if one.pair.rigidly_coupled}
    asked = [one for one in results if not one.pair.rigidly_coupled and _may_be(one, states[one.pair])]
    if not asked:
        return frozenset(still)
    solved = solve(mechanism, _spread(mechanism, sum(LOOKS)))
    reached = np.flatnonzero(solved.reached)
    looks = [solved.posture.take(rows) for rows in np.split(reached, [LOOKS[0]]) if len(rows)]
    witnesses = Witnesses(mechanism, checked.pairs.solids, checked.swept.collision_models)
    return frozenset(still | {(one.pair.a, one.pair.b) for one in asked if _same(witnesses, one, looks)})


def _may_be(result: PairResult, state: PairState) -> bool:
    """Whether it is worth a look: its least is known, and is that of the drawing as far as that was measured."""
    at_rest = min(state.at_rest, np.inf if state.known is None else state.known.at_rest)
    same = not np.isfinite(at_rest) or at_rest <= result.least + _error(result)
    return bool(result.closed_in and result.least > 0 and not result.rolls and not result.told_of_range and same)


def _same(witnesses: Witnesses, result: PairResult, looks: Sequence[Posture]) -> bool:
    most = result.least + _error(result)
    return bool(looks) and all((witnesses.distances(result.pair, posture) <= most).all() for posture in looks)


def _error(result: PairResult) -> float:
    return result.surface_error + SAME_MM


def _spread(mechanism: Mechanism, count: int) -> Floats:
    """Settings (count, d) that no regular spacing of teeth or holes can hide behind: multiples of irrational steps."""
    drives = list(mechanism.machine.drives.values())
    steps = np.sqrt(np.arange(2, len(drives) + 2) + 0.5)
    shares = np.outer(np.arange(1, count + 1), steps) % 1.0
    low, high = (np.array([getattr(drive, end) for drive in drives]) for end in ("low", "high"))
    return np.asarray(low + shares * (high - low))
