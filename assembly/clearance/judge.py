"""From a pair's search to its verdict, with the sum behind the proof and the region in which it fails."""

from __future__ import annotations

import numpy as np

from assembly.clearance.cells import Cells
from assembly.clearance.outcome import PairResult, Region, Setting, Terms, Verdict
from assembly.clearance.search import TOLERANCE, PairSearch
from assembly.geometry.mesh import Floats
from assembly.motion.travel import residual_travel


def judge(search: PairSearch, cells: Cells, *, swallowed: bool, stopped: str) -> PairResult:
    """The verdict on one pair from what its search has found so far."""
    proven = search.proven if len(search.tiling[0]) else None
    if swallowed:
        proven = None
    verdict, why = _verdict(search, proven, swallowed, stopped)
    at = search.least_at if search.least_at is not None else np.zeros(cells.motion.settings.shape[1])
    return PairResult(
        pair=search.pair,
        least=search.least,
        at=_setting(at),
        proven=None if proven is None or not np.isfinite(proven) else min(proven, search.least),
        verdict=verdict,
        why=why,
        terms=_terms(search, cells),
        region=_region(search, cells) if verdict is Verdict.FAILS and not search.pair.still else None,
        swallowed=swallowed,
    )


def _verdict(search: PairSearch, proven: float | None, swallowed: bool, stopped: str) -> tuple[Verdict, str]:
    required = search.pair.required
    if swallowed:
        return Verdict.FAILS, "one lies inside the other"
    if search.least <= 0:
        return Verdict.FAILS, "they strike"
    if search.least < required:
        return Verdict.FAILS, f"{search.least:.2f} mm where {required:g} mm is required"
    if proven is not None and proven >= required and proven > 0:
        return Verdict.CLEAR, "proven over the whole range"
    if stopped:
        return Verdict.UNDECIDED, stopped
    if search.least - search.errors < required:
        return (
            Verdict.UNDECIDED,
            f"the facets stand off the true surfaces by up to {search.surface_error:.3f} mm; draw finer",
        )
    return Verdict.UNDECIDED, "the range was cut as fine as it goes"


def _terms(search: PairSearch, cells: Cells) -> Terms | None:
    leaves, bounds = search.tiling
    if not len(leaves) or search.pair.still:
        return None
    row = int(np.argmin(bounds))
    cell = int(leaves[row])
    distance = search.known.get(int(cells.centre_of[cell]), np.nan)
    only = np.array([cell])
    arm = float(np.ptp(search.a.outline.points, axis=0).max() + np.ptp(search.b.outline.points, axis=0).max())
    motion = cells.motion.take(only)
    residual = float(residual_travel(motion, search.a.body, search.b.body, arm)[0])
    travel = float(search.travel(motion, cells.mechanism.bodies.centres)[0]) - residual
    if np.isnan(distance):
        distance = float(bounds[row]) + travel + residual + search.errors
    return Terms(
        at=_setting(cells.motion.settings[cell]),
        half=_setting(cells.motion.half[cell]),
        distance=distance,
        travel=travel,
        residual=residual,
        surface_error=search.surface_error,
        query_tolerance=TOLERANCE,
    )


def _region(search: PairSearch, cells: Cells) -> Region:
    """Cells at whose centre the pair was seen nearer than it must be."""
    leaves, bounds = search.tiling
    required = max(search.pair.required, TOLERANCE)
    near = np.array(
        [
            cell
            for cell, bound in zip(leaves.tolist(), bounds.tolist(), strict=True)
            if bound < required and search.known.get(int(cells.centre_of[cell]), np.inf) < required
        ],
        dtype=np.intp,
    )
    half = cells.motion.half[near]
    share = float(np.prod(2 * half / cells.span, axis=1).sum())
    listed = tuple((_setting(cells.motion.settings[cell]), _setting(cells.motion.half[cell])) for cell in near)
    return Region(listed, share)


def _setting(values: Floats) -> Setting:
    return tuple(float(value) for value in values)
