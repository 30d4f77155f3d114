"""Whether a rod can lie at every setting with all of its ends inside their limits, shown over the sweep's cells.

In each cell the rod is rolled to where it has the most room at the cell's centre; held at that roll, each end's lean is
bounded all through the cell. Cells in which an end might run out are cut. Where all cells are served, some roll serves
at every setting, between the looked-at ones too; the rod may have to roll on the way from one to the next.
"""

from __future__ import annotations

import numpy as np

from assembly.clearance.joint_search import GRAIN, SMALLEST_CUT, Extremes, JointSearch
from assembly.clearance.outcome import Setting, Verdict
from assembly.clearance.rules import Limit
from assembly.motion.mechanism import joined_solved
from assembly.motion.rod_roll import Rod, windows
from assembly.motion.solver import solve


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
        seen = joined_solved(seen, solve(search.mechanism, np.array([binds_at])))
    values = limit.values(seen.posture)
    low, high = (tuple(seen.settings[row].tolist()) for row in (int(values.argmin()), int(values.argmax())))
    most = float(values.max())
    proven = limit.high if verdict is Verdict.CLEAR else np.inf
    return Extremes(float(values.min()), most, low, high, 0.0, proven, values[: len(search.seen.settings)])


def _proved(search: JointSearch, rod: Rod) -> tuple[Verdict, Setting]:
    cells = search.groups.between(*(body for end in rod.ends for body in end.lean.bodies))
    roots, _ = cells.proven_roots()
    waiting, open_end = roots, False
    while len(waiting):
        motion = cells.motion.take(waiting)
        rolls, room = windows(rod, motion.posture).best()
        if room.min() < -GRAIN:
            return Verdict.FAILS, tuple(motion.settings[int(room.argmin())].tolist())
        leans = [end.rolled(rolls) for end in rod.ends]
        served = np.all(
            [lean.span(motion, room).high <= end.limit + GRAIN for lean, end in zip(leans, rod.ends, strict=True)],
            axis=0,
        )
        axes = np.argmax(sum(lean.paces(motion) for lean in leans) * motion.half, axis=1)
        waiting, axes = waiting[~served], axes[~served]
        may_cut = cells.share_of_range(waiting) > SMALLEST_CUT
        open_end = open_end or not may_cut.all()
        waiting, axes = waiting[may_cut], axes[may_cut]
        if 3 * len(waiting) > search.thirds_left:
            return Verdict.UNDECIDED, ()
        waiting = search.split(cells, waiting, axes).reshape(-1)
    return (Verdict.UNDECIDED if open_end or not len(roots) else Verdict.CLEAR), ()
