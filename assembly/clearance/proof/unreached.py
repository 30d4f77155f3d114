"""Where the machine could not be proven to go together, one place after another."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from assembly.clearance.proof.cell_groups import CellGroups
from assembly.clearance.proof.cells import Cells
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.singular import NEAR, weakest_loop
from assembly.kinematics.solver import unreachable
from assembly.record import UnreachableEntry

UNREACHABLE_TOLD = 20
"""At most this many places that cannot be reached are reported one by one."""


def unresolved_share(groups: CellGroups) -> float:
    """No more of the range than this could not be proven to go together."""
    return min(1.0, sum(cells.unresolved_share() for cells in groups.of_blocks()))


def unreached(groups: CellGroups) -> tuple[UnreachableEntry, ...]:
    """The widest of the cells that were left unresolved, one by one; first those whose centre cannot be assembled."""
    every = [cells for cells in groups.of_blocks() if len(cells.unresolved)]
    if not every:
        return ()
    places = [(cells, number) for cells in every for number in cells.unresolved.tolist()]
    reached = np.concatenate([cells.reached[cells.unresolved] for cells in every])
    width = np.concatenate([cells.share_of_range(cells.unresolved) for cells in every])
    first = np.lexsort((-width, reached))[:UNREACHABLE_TOLD]
    return tuple(_lost(groups.mechanism, *places[row]) for row in first)


def _lost(whole: Mechanism, cells: Cells, number: int) -> UnreachableEntry:
    """What is wrong in the middle of one cell that was left unresolved.

    One that is proven in itself does not agree with those it touches, or nothing joins it to rest: the machine may
    be on another assembly of its links.
    """
    solved, mechanism = cells.solved(np.array([number])), cells.mechanism
    names = list(mechanism.machine.drives)
    told = tuple(names[drive] for drive in cells.drives) if len(cells.drives) < len(whole.machine.drives) else ()
    lost = unreachable(mechanism, solved, 0)
    lost = replace(lost, at=dict.fromkeys(whole.machine.drives, 0.0) | dict(lost.at), drives=told)
    if not solved.reached[0]:
        return lost
    loop, left = weakest_loop(mechanism, solved.posture)
    return replace(lost, loop=loop or lost.loop, near_singular=left < NEAR or bool(cells.motion.certified[number]))
