"""What a search has found of a pair by now, as a result, however far it got."""

from __future__ import annotations

import numpy as np

from assembly.clearance.narrow_phase.pair_result import PairResult
from assembly.clearance.proof.at_rest import CornersAtRest
from assembly.clearance.proof.pair_state import PairState
from assembly.clearance.proof.pair_verdict import judge, not_come_to
from assembly.clearance.proof.stages import SearchStages
from assembly.time_limit import out_of_time


def settle(stages: SearchStages, state: PairState) -> None:
    """See to it that a pair has a result: what is known of it, or a least that two of its points show."""
    search = state.search
    if search is None:
        state.found = state.found or state.deepest
    elif not np.isfinite(search.least) and not out_of_time():
        mechanism = search.reduced.mechanism
        corners = CornersAtRest(mechanism, stages.solid_table.source)
        state.corners = corners.nearest(search.pair, search.a, search.b)
        search.found(state.corners.distance, np.zeros(len(mechanism.machine.drives) + len(search.rolls)))


def result_of(stages: SearchStages, state: PairState, *, stopped: str, covered: bool) -> PairResult:
    """From its search, or as it is known; of a sweep that ended early, as far as any earlier one looked into it.

    ``covered``: whether it is known where the machine goes together.
    """
    search = state.search
    if search is None:
        if state.found is not None:
            return state.found.result
        if not stopped:
            raise LookupError(f"nothing is known of {state.pair.a} and {state.pair.b}")
        return not_come_to(state.pair, stages.groups, stopped)
    # What was cut short before it had cells is given none now: to make them is the longest step of all.
    looked_at = covered and (not stopped or search.apart or stages.have_cells(search))
    unresolved = stages.unresolved_share(search) if looked_at else 1.0
    return judge(search, stages.groups, stopped=stopped, unresolved=unresolved).bracketed(stages.effort)
