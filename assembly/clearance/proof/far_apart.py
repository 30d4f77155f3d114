"""Pairs of two independent groups that cannot come near each other, told without a search.

One box holds all the space that a part takes at any setting of its own drives: all its boxes in the cells over these.
What two such boxes leave between them is a bound on the pair wherever the drives of both stand, with the terms of
``Method.SWEPT_BOXES``. All pairs are looked at as one stack, so that those which never meet cost next to nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from assembly.clearance.narrow_phase.bounding_balls import Side, box_gaps
from assembly.clearance.narrow_phase.checked_pairs import CheckedPair, Exclusion
from assembly.clearance.narrow_phase.pair_result import Effort, ErrorBudget, PairResult, Verdict
from assembly.clearance.proof.at_rest import CornersAtRest
from assembly.clearance.proof.cached import CachedPair, Depth, PairFound
from assembly.clearance.proof.cell_groups import CellGroups
from assembly.clearance.proof.cells import Cells
from assembly.clearance.proof.lower_bound import TERMS, Bounds, Method, lower_bound
from assembly.clearance.proof.pair_verdict import PROVEN, WORDS
from assembly.clearance.proof.solid_table import SolidTable, SweptBoxes
from assembly.geometry.mesh import Floats
from assembly.kinematics.travel import STILL
from assembly.time_limit import check_time

FAR = 5.0
"""A pair is far apart where boxes leave what is required and this many times the interest: others are searched, which
tells more of them."""


@dataclass(frozen=True, slots=True, eq=False)
class _Room:
    """The ``box`` (2, 3) mm that holds a part at any setting, and how far double precision can shift it, mm."""

    side: Side
    box: Floats
    rounding: float


class FarApart:
    """What is reported of far pairs: ``boxes`` gives those that parts fill in the roots of cells of ``groups``."""

    def __init__(
        self, groups: CellGroups, solid_table: SolidTable, boxes: Callable[[Cells], SweptBoxes], effort: Effort
    ) -> None:
        self._groups, self._solid_table, self._boxes, self._effort = groups, solid_table, boxes, effort
        self._rest = (0.0,) * len(groups.mechanism.machine.drives)
        self._rooms: dict[Exclusion, _Room | None] = {}
        self._corners = CornersAtRest(groups.mechanism, solid_table.source)

    def known(self, pairs: Sequence[CheckedPair]) -> list[CachedPair | None]:
        """What is reported of each of ``pairs``, which must be of two groups; None of those that are to be searched."""
        rooms = [(self._room(pair.trim_a), self._room(pair.trim_b)) for pair in pairs]
        told: list[CachedPair | None] = [None] * len(pairs)
        rows = [row for row, (a, b) in enumerate(rooms) if a is not None and b is not None]
        both = [(a, b) for a, b in rooms if a is not None and b is not None]
        if not both:
            return told
        first, second = (np.stack([room.box for room in side]) for side in zip(*both, strict=True))
        errors = np.array([a.side.surface_error + b.side.surface_error for a, b in both])
        rounding = np.array([max(a.rounding, b.rounding) for a, b in both])
        bounds = lower_bound(Method.SWEPT_BOXES, box_gaps(first, second), STILL, errors, rounding)
        wanted = np.array([pairs[row].required for row in rows]) + FAR * self._effort.interest_mm
        for number in np.flatnonzero(bounds.lower >= wanted).tolist():
            check_time()
            row, (a, b) = rows[number], both[number]
            told[row] = self._told(pairs[row], a.side, b.side, bounds.take(np.array([number])))
        return told

    def _room(self, exclusion: Exclusion) -> _Room | None:
        if exclusion not in self._rooms:
            self._rooms[exclusion] = self._made(self._solid_table.whole(exclusion))
        return self._rooms[exclusion]

    def _made(self, side: Side) -> _Room | None:
        """The room of one solid, at any of its rolls; None where not all of it is known."""
        own, filled = self._groups.of_own(side.body), side.at_any_roll(side.rolls)
        if own is None or filled is None:
            return None
        swept = self._boxes(own.cells).swept(filled, own)
        box = np.stack([swept.boxes[:, 0].min(axis=0), swept.boxes[:, 1].max(axis=0)])
        return _Room(side, box, float(swept.rounding.max()))

    def _told(self, pair: CheckedPair, a: Side, b: Side, bound: Bounds) -> CachedPair:
        """Seen at rest; the bound is of no cell, but of the whole range."""
        witness = self._corners.nearest(pair, a, b)
        proven, error_budget = float(bound.lower[0]), dict(zip(TERMS, bound.error_budget[0].tolist(), strict=True))
        result = PairResult(
            pair=pair,
            least=witness.distance,
            at=self._rest,
            proven=min(proven, witness.distance),
            verdict=Verdict.CLEAR,
            why=PROVEN,
            error_budget=ErrorBudget(at=(), half=(), method=WORDS[Method.SWEPT_BOXES], **error_budget),
            surface_error=a.surface_error + b.surface_error,
        ).bracketed(self._effort)
        return CachedPair(proven, found={Depth.APART: PairFound(result, witness)})
