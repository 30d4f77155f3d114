"""From a pair's search to its verdict, with the sum behind the proof."""

from __future__ import annotations

from math import floor

import numpy as np

from assembly.clearance.narrow_phase.checked_pairs import CheckedPair
from assembly.clearance.narrow_phase.distance import QUERY_TOLERANCE
from assembly.clearance.narrow_phase.pair_result import ErrorBudget, PairResult, Setting, Verdict
from assembly.clearance.proof.cell_groups import CellGroups
from assembly.clearance.proof.lower_bound import TERMS, Method
from assembly.clearance.proof.pair_search import PairSearch, PieceSearch
from assembly.geometry.mesh import Floats
from assembly.kinematics.rod_roll import HALF_TURN
from assembly.kinematics.roll_columns import as_wide, roll_name

WORDS = {
    Method.NOTHING: "nothing",
    Method.SWEPT_BOXES: "boxes round the room that both take in the cell",
    Method.BOXES: "boxes at the middle of the cell",
    Method.CENTRE: "measured at the middle of the cell",
    Method.CARRIED: "measured at the middle of another cell",
    Method.FACING: "across the gap",
    Method.AT_REST: "measured with all drives at 0",
}
PROVEN = "proven over the whole range"
HARDLY_MORE = 0.0005
"""mm; a pair that comes so near to what is required is not decided by finer facets, which would be bad advice."""


def judge(search: PairSearch, groups: CellGroups, *, stopped: str, unresolved: float) -> PairResult:
    """The verdict on one pair from what its search has found so far.

    ``unresolved``: share of the range in cells whose motion could not be proven. Even where the machine cannot be put
    together at the middle of such a cell, it may be elsewhere in it: nothing is proven there of parts that move.
    """
    missing = 0.0 if search.pair.rigidly_coupled else unresolved
    proven = None if missing or search.contained or not np.isfinite(search.proven) else search.proven
    verdict, why = _verdict(search, missing, stopped)
    mechanism, at = search.reduced.mechanism, search.least_at
    if at is None:
        at = np.zeros(len(mechanism.machine.drives) + len(search.rolls))
    return PairResult(
        pair=search.pair,
        least=search.least,
        at=_setting(search.reduced.widened(at)),
        proven=None if proven is None else min(proven, search.least),
        verdict=verdict,
        why=why,
        error_budget=None if proven is None else _terms(search, groups),
        contained=search.contained,
        surface_error=search.surface_error,
        rolls=tuple(roll_name(mechanism.bodies, mechanism.idle[number]) for number in search.rolls),
    )


def not_come_to(pair: CheckedPair, groups: CellGroups, stopped: str) -> PairResult:
    """What is said of a pair of which nothing is known, since the sweep was ``stopped`` before."""
    rest = (0.0,) * len(groups.mechanism.machine.drives)
    return PairResult(pair=pair, least=np.inf, at=rest, proven=None, verdict=Verdict.UNDECIDED, why=stopped)


def _verdict(search: PairSearch, missing: float, stopped: str) -> tuple[Verdict, str]:
    required = search.pair.required
    if search.contained:
        return Verdict.FAILS, "one lies inside the other"
    if search.least <= 0:
        return Verdict.FAILS, "they strike"
    if search.least < required:
        return Verdict.FAILS, f"{search.least:z.2f} mm where {required:g} mm is required"
    if search.proven >= required and search.proven > 0:
        return (Verdict.UNDECIDED, _gap_in_proof(search, missing)) if missing else (Verdict.CLEAR, PROVEN)
    if stopped:
        return Verdict.UNDECIDED, stopped
    error = max((piece.surface_error for piece in search.pieces), default=0.0)
    if search.least < required + HARDLY_MORE:
        return Verdict.UNDECIDED, f"it comes to {search.least:z.2f} mm, hardly more than is required"
    if search.least - error < required + QUERY_TOLERANCE:
        return Verdict.UNDECIDED, f"the facets stand off the true surfaces by up to {error:z.3f} mm; draw finer"
    return Verdict.UNDECIDED, "the range was cut as fine as it goes"


def _gap_in_proof(search: PairSearch, missing: float) -> str:
    why = f"{max(100 * missing, 0.01):z.2f} % of the range could not be proven: there it may lock, fold over or not be"
    if not np.isfinite(search.proven):
        return f"{why} put together"
    return f"{why} put together; elsewhere it keeps {floor(100 * search.proven) / 100:z.2f} mm"


def _terms(search: PairSearch, groups: CellGroups) -> ErrorBudget:
    piece = min(search.pieces, key=lambda piece: piece.proven)
    bounds = piece.tiling.figures
    row = int(np.argmin(bounds.lower))
    at, half = (_setting(as_wide(piece.rolls, search.rolls, one)) for one in _cell(piece, row, groups))
    return ErrorBudget(
        at=at,
        half=half,
        method=WORDS[Method(bounds.method[row])],
        **dict(zip(TERMS, bounds.error_budget[row].tolist(), strict=True)),
    )


def _cell(piece: PieceSearch, row: int, groups: CellGroups) -> tuple[Floats, Floats]:
    """Centre (d,) and half of the widths (d,) of the cell in a row of the tiling, in the whole machine's columns.

    A product is of any roll.
    """
    if piece.product is not None:
        rolls = np.zeros(len(piece.rolls))
        return np.append(piece.product.settings, rolls), np.append(piece.product.half, rolls + HALF_TURN)
    reduced, cell = piece.search.reduced, int(piece.tiling.ids[row])
    cells = groups.within(reduced).rolled(piece.rolls).between(piece.a.body, piece.b.body)
    return reduced.widened(cells.settings[cell]), reduced.widened(cells.half[cell])


def _setting(values: Floats) -> Setting:
    return tuple(float(value) for value in values)
