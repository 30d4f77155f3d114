"""Cells cut until the motion is proven in each, and proven to be the one that the machine gets to from rest.

Where the motion cannot be proven a cell is cut on; at the smallest size it is left unresolved, and what is left so is
reported as a place where the machine could not be proven to stay in one piece. Proven cells that touch must agree on
where the machine stands (``cell_faces``), and those that no others join to rest are left unresolved: there the machine
may be on another assembly of its links.
"""

from __future__ import annotations

import numpy as np

from assembly.clearance.proof.cell_faces import SAME, agreeing, faces, holding, joined_to
from assembly.clearance.proof.cells import Cells
from assembly.clearance.proof.redundancy import stays_closed
from assembly.geometry.mesh import Flags, Floats, Ids

SMALLEST = 3.0**-7
"""Share of a drive's range: a cell this small that cannot be proven is left unresolved."""
SMALLEST_UNREACHED = 3.0**-4
"""The same for cells whose very centre cannot be assembled."""
MOST_UNPROVEN = 6000
"""Cells that may be cut at one level for lack of proof; beyond it they are left unresolved as they are."""


def prove(cells: Cells, rates: Floats) -> tuple[Ids, Ids]:
    """Cells that cover the first ones with their motion proven, and those that were left unresolved.

    ``rates`` (d,): how far in mm each drive moves the machine per unit.
    """
    proven, unresolved = _cut_for_proof(cells, cells.first, rates)
    while True:
        first, second, agree = _touching(cells, proven)
        split = np.unique(np.concatenate([first[~agree], second[~agree]]))
        small = _too_small(cells, proven[split], SMALLEST)
        unresolved = np.concatenate([unresolved, proven[split[small]]])
        cut = proven[split[~small]]
        proven = np.delete(proven, split)
        if not len(split):
            break
        more, lost = _cut_for_proof(cells, _children(cells, cut, rates), rates)
        proven, unresolved = np.concatenate([proven, more]), np.concatenate([unresolved, lost])
    ours = joined_to(_at_rest(cells, proven), len(proven), first, second)
    return proven[ours], np.concatenate([unresolved, proven[~ours]])


def _cut_for_proof(cells: Cells, waiting: Ids, rates: Floats) -> tuple[Ids, Ids]:
    """Cells that cover those ``waiting``, each proven in itself, and those that were left unresolved."""
    proven, unresolved = [waiting[:0]], [waiting[:0]]
    while len(waiting):
        sure = cells.motion.certified[waiting]
        some = waiting[sure]
        sure[sure] = stays_closed(cells.mechanism, cells.solved(some), cells.motion.half[some], cells.drives)
        proven.append(waiting[sure])
        rest = waiting[~sure]
        small = _too_small(cells, rest, np.where(cells.reached[rest], SMALLEST, SMALLEST_UNREACHED))
        unresolved.append(rest[small])
        waiting = _children(cells, rest[~small], rates)
    return np.concatenate(proven), np.concatenate(unresolved)


def _too_small(cells: Cells, ids: Ids, least: Floats | float) -> Flags:
    """Which cells (N,) are not wider than a share of the range; all where there are too many to be cut."""
    small = np.asarray(cells.share_of_range(ids) <= least)
    if (~small).sum() > MOST_UNPROVEN:
        small[:] = True
    return small


def _children(cells: Cells, ids: Ids, rates: Floats) -> Ids:
    return cells.split(ids, np.argmax(cells.motion.half[ids] * rates, axis=1)).reshape(-1)


def _touching(cells: Cells, ids: Ids) -> tuple[Ids, Ids, Flags]:
    """Which of ``ids`` touch along a face, and whether they agree there."""
    own = list(cells.drives)
    centre, half = cells.motion.settings[ids][:, own], cells.motion.half[ids][:, own]
    first, second, places = faces(centre, half, cells.span[own])
    settings = cells.motion.settings[ids[first]]
    settings[:, own] = places
    return first, second, agreeing(cells.motion, ids[first], ids[second], settings)


def _at_rest(cells: Cells, ids: Ids) -> Ids:
    """Which of the cells ``ids`` hold the machine at rest, as it is drawn."""
    away = np.abs(cells.motion.settings[ids]) - cells.motion.half[ids]
    near = np.flatnonzero((away <= SAME * cells.span).all(axis=1))
    home, alike = cells.mechanism.at_rest, np.zeros(len(near), dtype=np.intp)
    return near[holding(cells.motion, ids[near], home.posture.take(alike), home.settings[alike])]
