"""Each pair with its nearest points and shapes, at the setting that shows its least."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace

import numpy as np

from assembly.clearance.narrow_phase.pair_result import PairResult
from assembly.clearance.narrow_phase.witness import Witnesses, shown_by
from assembly.clearance.proof.cached import PairFound
from assembly.clearance.proof.pair_state import PairState
from assembly.errors import TimeLimitError
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.roll_columns import with_named_rolls
from assembly.kinematics.rows import Posture
from assembly.kinematics.solver import solve


def with_witnesses(
    mechanism: Mechanism, witnesses: Witnesses, states: Sequence[PairState], results: Sequence[PairResult]
) -> list[PairFound]:
    """What is found of each pair, measured where that is neither known nor shown by two corners.

    Where the time is over before all are shown, those with the most room are left without.
    """
    to_measure = [index for index, state in enumerate(states) if not state.found and not state.corners]
    every = zip(states, results, strict=True)
    found = [state.found or PairFound(result, state.corners) for state, result in every]
    to_measure.sort(key=lambda index: found[index].room)
    with suppress(TimeLimitError):
        for rolls in dict.fromkeys(results[index].rolls for index in to_measure):
            own = [index for index in to_measure if results[index].rolls == rolls]
            solved = solve(with_named_rolls(mechanism, rolls), np.array([results[index].at for index in own]))
            for row, index in enumerate(own):
                result = results[index]
                if np.isfinite(result.least) and solved.reached[row]:
                    found[index] = _show_pair(witnesses, result, solved.posture.take(np.array([row])))
    return found


def _show_pair(witnesses: Witnesses, result: PairResult, posture: Posture) -> PairFound:
    """A sweep that was stopped leaves its strikes without an overlap; it is then taken where the strike was seen."""
    witness = witnesses.nearest(result.pair, posture)
    if result.overlap is None and result.least <= 0:
        result = replace(result, overlap=witnesses.overlap(result.pair, posture, result.at))
    if result.overlap is not None:
        witness = shown_by(witness, result.overlap)
    return PairFound(result, witness)
