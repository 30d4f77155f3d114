"""Pairs that the proof leaves open, measured over the whole range all the same: an open pair may strike.

A lattice over the drives that move a pair, with rest and the ends of the ranges in it, and the middles of cells that
were left unresolved but can be reached. Boxes tell where a pair cannot be nearer than it was seen already. From its
nearest setting each pair is followed downhill.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from assembly.clearance.narrow_phase.bounding_balls import box_gaps
from assembly.clearance.narrow_phase.queries import Bench, job_at
from assembly.clearance.proof.cells import Cells
from assembly.clearance.proof.local_search import local_search
from assembly.clearance.proof.pair_search import PairSearch
from assembly.clearance.proof.solid_table import Boxes
from assembly.geometry.mesh import Floats, Ids
from assembly.kinematics.array_stacks import crossings_within, stacked
from assembly.kinematics.mechanism import Mechanism, Solved
from assembly.kinematics.roll_columns import allowed
from assembly.kinematics.solver import solve

SAMPLED = 600
"""Settings of the lattice, about, however many drives it is over."""
FEWEST = 5
"""Settings along each drive."""
MOST_SAMPLED = 50_000
"""Where the drives' settings with one another are more, those of each two drives are sampled."""
MOST_GIVEN_UP = 200
"""Cells that were left unresolved whose middles are looked at, the widest first."""
AT_ONCE = 24
"""Settings at which a pair is measured in one round, those with the nearest boxes first."""


def measure_open(
    bench: Bench,
    searches: Sequence[PairSearch],
    cells_of: Callable[[PairSearch], Cells],
    check_budget: Callable[[], None],
) -> None:
    """Let each of ``searches`` note how near its pair comes on the lattice and downhill from there."""
    by_cells: dict[Cells, list[PairSearch]] = {}
    for search in searches:
        by_cells.setdefault(cells_of(search), []).append(search)
    for cells, own in by_cells.items():
        mechanism = cells.mechanism
        sample = _sample(mechanism, cells)
        boxes = Boxes(mechanism, sample.posture)
        every = [_Waiting(search, box_gaps(boxes.of(search.a), boxes.of(search.b))) for search in own]
        while asked := [(one, rows) for one in every if len(rows := one.next())]:
            check_budget()
            jobs = [job_at(mechanism, one.search.a, one.search.b, sample.posture.take(rows)) for one, rows in asked]
            for (one, rows), found in zip(asked, bench.measure(jobs), strict=True):
                best = int(np.argmin(found))
                one.search.found(float(found[best]), sample.settings[rows[best]])
        local_search(mechanism, bench, own)


@dataclass(slots=True, eq=False)
class _Waiting:
    """One pair, the distances (N,) mm of its boxes at the sampled settings, and how many of these it is through."""

    search: PairSearch
    gaps: Floats
    done: int = 0

    def next(self) -> Ids:
        """The next rows at which it may be nearer than it was seen to be; none once there are none left."""
        order = np.argsort(self.gaps, kind="stable")[self.done : self.done + AT_ONCE]
        self.done += len(order)
        return order[self.gaps[order] < self.search.least]


def _sample(mechanism: Mechanism, cells: Cells) -> Solved:
    """Postures at those settings of the sample that can be reached and that the ends of rods allow."""
    drives = list(mechanism.machine.drives.values())
    count = max(FEWEST, round(SAMPLED ** (1 / max(1, len(cells.drives)))))
    values = [
        np.unique(np.append(np.linspace(drive.low, drive.high, count), 0.0)) if number in cells.drives else np.zeros(1)
        for number, drive in enumerate(drives)
    ]
    solved = solve(mechanism, crossings_within(values, MOST_SAMPLED))
    unresolved = cells.unresolved
    reached = unresolved[cells.reached[unresolved]]
    widest = reached[np.argsort(-cells.share_of_range(reached), kind="stable")[:MOST_GIVEN_UP]]
    every = stacked(solved.take(np.flatnonzero(solved.reached)), cells.solved(widest))
    return every.take(np.flatnonzero(allowed(mechanism, every.posture)))
