"""Pairs whose distance is the same at every setting: no setting shows their least, for all do.

Nowhere less is proven by the sweep; that it is nowhere more is seen at settings spread over the range. No rule rests on
that: it only says that the setting of the least is no place of its own.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from assembly.clearance.narrow_phase.checked_pairs import CheckedPair
from assembly.clearance.narrow_phase.pair_result import PairResult
from assembly.clearance.narrow_phase.witness import Witnesses
from assembly.clearance.proof.cache_keys import digest_of, motion_of
from assembly.clearance.proof.cached import FiguresCache
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


def constant_pairs(checked: CheckResult, cache: FiguresCache | None = None) -> frozenset[tuple[str, str]]:
    """The names of the pairs that are as far apart everywhere as where they are nearest. Raises TimeLimitError.

    Of a pair that ``cache`` knows it is not measured again; what is found is kept in it.
    """
    states = {state.pair: state for state in checked.swept.states}
    results = [one.result for one in checked.found]
    still = {(one.pair.a, one.pair.b) for one in results if one.pair.rigidly_coupled}
    asked = [one for one in results if not one.pair.rigidly_coupled and _may_be(one, states[one.pair])]
    keys = _keys(checked, asked) if cache is not None else {}
    known = dict(cache.look_up_figures(list(keys.values()), bool)) if cache is not None else {}
    found = _constant(checked, [one for one in asked if keys.get(one.pair) not in known])
    if cache is not None and found:
        cache.keep_figures({keys[pair]: same for pair, same in found.items() if pair in keys})
    every = {one.pair: found[one.pair] if one.pair in found else known[keys[one.pair]] for one in asked}
    return frozenset(still | {(pair.a, pair.b) for pair, same in every.items() if same})


def _keys(checked: CheckResult, asked: Sequence[PairResult]) -> dict[CheckedPair, str]:
    """Keys of pairs: all that their results depend on, what is looked for, and which settings can be reached."""
    motion = digest_of(("constant", motion_of(checked.mechanism)))
    keys = dict(zip(checked.pairs.checked, checked.keys, strict=False))
    return {one.pair: f"{motion} {_most(one)!r} {keys[one.pair]}" for one in asked if one.pair in keys}


def _constant(checked: CheckResult, asked: Sequence[PairResult]) -> dict[CheckedPair, bool]:
    """Whether each pair is as far apart at settings spread over the range as where it is nearest."""
    if not asked:
        return {}
    mechanism = checked.mechanism
    solved = solve(mechanism, _spread(mechanism, sum(LOOKS)))
    reached = np.flatnonzero(solved.reached)
    looks = [solved.posture.take(rows) for rows in np.split(reached, [LOOKS[0]]) if len(rows)]
    witnesses = Witnesses(mechanism, checked.pairs.solids, checked.swept.collision_models)
    return {one.pair: _same(witnesses, one, looks) for one in asked}


def _may_be(result: PairResult, state: PairState) -> bool:
    """Whether it is worth a look: its least is known, and is that of the drawing as far as that was measured."""
    at_rest = min(state.at_rest, np.inf if state.known is None else state.known.at_rest)
    same = not np.isfinite(at_rest) or at_rest <= result.least + _error(result)
    return bool(result.closed_in and result.least > 0 and not result.rolls and not result.told_of_range and same)


def _same(witnesses: Witnesses, result: PairResult, looks: Sequence[Posture]) -> bool:
    most = _most(result)
    return bool(looks) and all((witnesses.distances(result.pair, posture) <= most).all() for posture in looks)


def _most(result: PairResult) -> float:
    """How far apart in mm a pair may be anywhere, if it is to be the same everywhere."""
    return result.least + _error(result)


def _error(result: PairResult) -> float:
    return result.surface_error + SAME_MM


def _spread(mechanism: Mechanism, count: int) -> Floats:
    """Settings (count, d) that no regular spacing of teeth or holes can hide behind: multiples of irrational steps."""
    drives = list(mechanism.machine.drives.values())
    steps = np.sqrt(np.arange(2, len(drives) + 2) + 0.5)
    shares = np.outer(np.arange(1, count + 1), steps) % 1.0
    low, high = (np.array([getattr(drive, end) for drive in drives]) for end in ("low", "high"))
    return np.asarray(low + shares * (high - low))
