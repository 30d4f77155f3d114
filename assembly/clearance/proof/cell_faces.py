"""Whether cells that touch each other speak of one branch, and which of them the machine gets to from rest.

A certified cell holds the machine in a box about its predicted motion, at every setting of the cell, wherever in the
cell it came in (``cell_motion.py``). So let a point of the face that two cells share be such that all postures
that the one holds there lie in the box of the other. What stands in the one then stands in the other, at this point
and, as the face belongs to both, at all of it: the branch goes on. Where this cannot be shown the cells may lie on two
assemblies of the same links, and neither is used as it is. What no chain of such faces joins to rest is not ours.
"""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from assembly.geometry.mesh import Flags, Floats, Ids
from assembly.geometry.rotations import angle_of, rotation_from_vector
from assembly.kinematics.cell_motion import CellMotion
from assembly.kinematics.closure import ROOM
from assembly.kinematics.rows import Posture
from assembly.time_limit import check_time

SAME = 1e-9
"""Share of a drive's range: places along it that are nearer are one."""
STRETCH = 1.03
"""Rotation vectors up to 0.75 rad differ by at most this times the turn between the rotations (closed form)."""
AT_ONCE = 2048
"""Faces looked at as one stack, and cells against which one is held at a time."""


def faces(centre: Floats, half: Floats, span: Floats) -> tuple[Ids, Ids, Floats]:
    """Pairs of cells (F,), (F,) that share a face, and a point (F, d) of it, the middle of what they share."""
    low, high = centre - half, centre + half
    grain = SAME * span
    first, second, points = [], [], []
    for axis in range(centre.shape[1]):
        order = np.argsort(low[:, axis], kind="stable")
        sorted_low = low[order, axis]
        start = np.searchsorted(sorted_low, high[:, axis] - grain[axis])
        end = np.searchsorted(sorted_low, high[:, axis] + grain[axis])
        for cell in np.flatnonzero(end > start):
            check_time()
            beside = order[start[cell] : end[cell]]
            from_, to = np.maximum(low[cell], low[beside]), np.minimum(high[cell], high[beside])
            wide = to - from_ > grain
            wide[:, axis] = True
            shared = np.flatnonzero(wide.all(axis=1))
            first.append(np.full(len(shared), cell, dtype=np.intp))
            second.append(beside[shared])
            points.append((from_[shared] + to[shared]) / 2)
    if not first:
        return np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.intp), np.zeros((0, centre.shape[1]))
    return np.concatenate(first), np.concatenate(second), np.concatenate(points)


def agreeing(motion: CellMotion, first: Ids, second: Ids, points: Floats) -> Flags:
    """Whether (F,) the cells ``first`` and ``second`` hold the machine in one posture at ``points`` (F, d)."""
    found = [np.zeros(0, dtype=bool)]
    for k in range(0, len(first), AT_ONCE):
        check_time()
        part = slice(k, k + AT_ONCE)
        a, b = motion.take(first[part]), motion.take(second[part])
        here, there = predicted(a, points[part]), predicted(b, points[part])
        shift, turn = _apart(here, there)
        found.append(_inside(a, b, shift, turn) | _inside(b, a, shift, turn))
    return np.concatenate(found)


def holding(motion: CellMotion, cells: Ids, posture: Posture, settings: Floats) -> Flags:
    """Whether (N,) ``cells`` hold ``posture`` (N) at ``settings`` (N, d) in their boxes."""
    own = motion.take(cells)
    shift, turn = _apart(predicted(own, settings), posture)
    return np.asarray(((shift <= own.shift_box) & (STRETCH * turn <= own.turn_box)).all(axis=1))


def predicted(motion: CellMotion, settings: Floats) -> Posture:
    """Where the N cells expect all bodies at ``settings`` (N, d), to second order from their centres."""
    away = settings - motion.settings
    shift = np.einsum("nbdk,nd->nbk", motion.shift_rate, away)
    shift += 0.5 * np.einsum("nbijk,ni,nj->nbk", motion.shift_bend, away, away)
    turn = np.einsum("nbdk,nd->nbk", motion.turn_rate, away)
    turn += 0.5 * np.einsum("nbijk,ni,nj->nbk", motion.turn_bend, away, away)
    return Posture(motion.posture.centres + shift, rotation_from_vector(turn) @ motion.posture.rotations)


def joined_to(start: Ids, count: int, first: Ids, second: Ids) -> Flags:
    """Which (count,) of cells 0..count-1 are joined by faces ``first``-``second`` to one of ``start``."""
    links = coo_matrix((np.ones(len(first)), (first, second)), shape=(count, count))
    _, number = connected_components(links, directed=False)
    return np.isin(number, number[start])


def _apart(here: Posture, there: Posture) -> tuple[Floats, Floats]:
    """How far (N, B) mm centres, and rad rotations, of two stacks of postures are apart."""
    shift = np.linalg.norm(here.centres - there.centres, axis=-1)
    return shift, angle_of(here.rotations @ np.swapaxes(there.rotations, -1, -2))


def _inside(inner: CellMotion, outer: CellMotion, shift: Floats, turn: Floats) -> Flags:
    """Whether (N,) all that ``inner`` holds lies in the box of ``outer``, the predictions being so far apart.

    Rows that are redundant may miss no more in it than the other was certified for.
    """
    near = shift + inner.shift_rest <= outer.shift_box
    alike = (inner.missed <= ROOM * outer.missed).all(axis=1)
    return np.asarray(alike & (near & (STRETCH * (turn + inner.turn_rest) <= outer.turn_box)).all(axis=1))
