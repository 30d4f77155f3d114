"""Angles over cells distinguished by whole turns: from the cell at rest to those that touch it, and on."""

from __future__ import annotations

import numpy as np

from assembly.clearance.proof.cells import Cells
from assembly.geometry.mesh import Floats, Ids
from assembly.kinematics.joint_motion import nearest_turn
from assembly.time_limit import check_time

CHUNK = 256
"""Settings that are held against all cells at a time."""


def nearest_cells(cells: Cells, ids: Ids, settings: Floats) -> Ids:
    """Which cell holds each of ``settings`` (N, d), or is nearest to it in widths of its own.

    Only the drives that are cut count: wherever the others stand, they do not move the joint.
    """
    drives = list(cells.drives)
    centre, half = (array[ids][:, drives] for array in (cells.motion.settings, cells.motion.half))
    found = np.zeros(len(settings), dtype=np.intp)
    for k in range(0, len(settings), CHUNK):
        check_time()
        away = np.abs(settings[k : k + CHUNK, None, drives] - centre) / half
        found[k : k + CHUNK] = away.max(axis=2, initial=0.0).argmin(axis=1)
    return found


def followed(cells: Cells, ids: Ids, centres: Floats, start: float) -> Floats:
    """Values (N,) at the cells' ``centres`` with whole turns told apart, from ``start`` at rest, by touching cells."""
    values, centre, half = centres.copy(), cells.motion.settings[ids], cells.motion.half[ids]
    front = nearest_cells(cells, ids, np.zeros((1, centre.shape[1])))
    if np.isfinite(start):
        values[front] = nearest_turn(values[front], np.full(len(front), start))
    left = np.ones(len(values), dtype=bool)
    left[front] = False
    while len(front):
        rest, reached = np.flatnonzero(left), [np.zeros(0, dtype=np.intp)]
        for row in front:
            check_time()
            apart = np.abs(centre[rest] - centre[row]) <= (half[rest] + half[row]) * (1 + 1e-9)
            touching = apart.all(axis=1)
            new = rest[touching]
            values[new] = nearest_turn(values[new], np.full(len(new), values[row]))
            reached.append(new)
            rest = rest[~touching]
        front = np.concatenate(reached)
        left[front] = False
    return values
