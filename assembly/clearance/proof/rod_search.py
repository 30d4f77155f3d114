"""Whether a rod can lie at every setting with all of its ends inside their limits, shown over the sweep's cells.

In each cell the rod is rolled to where it has the most room at the cell's centre; held at that roll, each end's lean is
bounded all through the cell. Cells in which an end might run out are cut. Where all cells are served, some roll serves
at every setting, between the looked-at ones too; the rod may have to roll on the way from one to the next.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assembly.clearance.narrow_phase.pair_result import Setting, Verdict
from assembly.clearance.proof.cells import Cells
from assembly.clearance.proof.joint_search import GRAIN, SMALLEST_CUT, Extremes, JointSearch
from assembly.clearance.proof.refiner import Children, Tiling, refine
from assembly.geometry.mesh import Flags, Floats, Ids
from assembly.kinematics.array_stacks import stacked
from assembly.kinematics.joint_limits import Limit
from assembly.kinematics.reduced import submechanism
from assembly.kinematics.rod_roll import Rod, windows
from assembly.kinematics.solver import solve
from assembly.time_limit import untimed


@dataclass(frozen=True, slots=True, eq=False)
class _Figures:
    """Of N cells: whether a roll serves all through, the room in degrees at the centre, and where to cut."""

    served: Flags
    room: Floats
    axes: Ids


@dataclass(slots=True, eq=False)
class _Served:
    """In which cells some roll serves all ends of ``rod``; those where none does are cut until one is seen to bind."""

    search: JointSearch
    rod: Rod
    cells: Cells
    tiling: Tiling[_Figures]

    def to_cut(self) -> Ids:
        figures = self.tiling.figures
        may_cut = self.cells.share_of_range(self.tiling.ids) > SMALLEST_CUT
        rows = np.flatnonzero(~figures.served & may_cut)
        if 3 * len(rows) > self.search.children_left or (figures.room < -GRAIN).any():
            return rows[:0]
        self.search.children_left -= 3 * len(rows)
        return rows

    def axes(self, rows: Ids) -> Ids:
        return self.tiling.figures.axes[rows]

    def bounded(self, children: Children[_Figures]) -> _Figures:
        return _figures(self.rod, self.cells, children.ids)


def prove_roll(search: JointSearch, rod: Rod) -> tuple[Verdict, Setting]:
    """Whether some roll serves all ends of ``rod`` at every setting, and a setting that shows that none does."""
    if rod.number not in search.served:
        search.served[rod.number] = _proved(search, rod)
    return search.served[rod.number]


def end_where_rolled(search: JointSearch, limit: Limit) -> Extremes:
    """How far an end of a rod leans where the rod is rolled, at each setting, to where all ends have the most room.

    It is found at settings. That it stays within its limit is proven where some roll is proven to serve everywhere.
    """
    verdict, binds_at = (Verdict.UNDECIDED, ()) if limit.rod is None else prove_roll(search, limit.rod)
    seen = search.seen
    if binds_at:
        with untimed():
            seen = stacked(seen, solve(search.mechanism, np.array([binds_at])))
    values = limit.values(seen.posture)
    low, high = (tuple(seen.settings[row].tolist()) for row in (int(values.argmin()), int(values.argmax())))
    most = float(values.max())
    proven = limit.high if verdict is Verdict.CLEAR else np.inf
    return Extremes(float(values.min()), most, low, high, 0.0, proven, values[: len(search.seen.settings)])


def _proved(search: JointSearch, rod: Rod) -> tuple[Verdict, Setting]:
    with search.in_time():
        reduced = submechanism(search.groups.mechanism, *(body for end in rod.ends for body in end.lean.bodies))
        own = rod.among(reduced.bodies.tolist())
        cells = search.groups.within(reduced).between(*(body for end in own.ends for body in end.lean.bodies))
        question = _Served(search, own, cells, Tiling(cells.roots, _figures(own, cells, cells.roots)))
        with search.in_time():
            refine([question])
        verdict, at = _answer(question)
        return verdict, tuple(reduced.widened(np.array(at)).tolist()) if at else ()
    return Verdict.UNDECIDED, ()


def _answer(question: _Served) -> tuple[Verdict, Setting]:
    cells = question.cells
    ids, figures = question.tiling.ids, question.tiling.figures
    if (figures.room < -GRAIN).any():
        return Verdict.FAILS, tuple(cells.motion.settings[ids[figures.room.argmin()]].tolist())
    return (Verdict.CLEAR if len(ids) and figures.served.all() else Verdict.UNDECIDED), ()


def _figures(rod: Rod, cells: Cells, ids: Ids) -> _Figures:
    motion = cells.motion.take(ids)
    rolls, room = windows(rod, motion.posture).best()
    leans = [end.rolled(rolls) for end in rod.ends]
    kept = [lean.span(motion, room).high <= end.limit + GRAIN for lean, end in zip(leans, rod.ends, strict=True)]
    axes = np.argmax(sum(lean.rates(motion) for lean in leans) * motion.half, axis=1)
    return _Figures(np.all(kept, axis=0), room, axes)
