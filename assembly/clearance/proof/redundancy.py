"""Whether rows that are redundant are seen to part anywhere in a cell.

Where a group of motions implies rows, they are left out and this is proven (``implied_rows.py``). What is redundant
beyond that depends on lengths (a third crank, a Bennett ring, both ends of a rod driven): that such rows hold all
through a cell is proven to ``CLOSURE_TOLERANCE`` and taken off every bound (``kinematics/closure.py``). A machine whose
rows part by less than that, but visibly, is not called proven either: all rows must hold at a grid of settings of
every cell, its corners among them, and at its centre to second order.
"""

from __future__ import annotations

from itertools import product

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats
from assembly.kinematics.mechanism import Mechanism, Solved
from assembly.kinematics.solver import follow

NODES = {5: np.cos(np.pi * np.arange(5) / 4), 3: np.array([-1.0, 0.0, 1.0]), 2: np.array([-1.0, 1.0])}
"""Settings along each drive as shares of a cell's half-width: Chebyshev's, for which what is between is least."""
MOST_POINTS = 20_000
"""Of all cells that are looked at together, with fewer settings along each drive where there would be more."""


def held_twice(mechanism: Mechanism) -> bool:
    """Whether some rows are redundant and no group of motions implies it."""
    return any(len(block.rows) > len(block.columns) for block in mechanism.system.blocks)


def stays_closed(mechanism: Mechanism, centres: Solved, half: Floats, drives: tuple[int, ...]) -> NDArray[np.bool_]:
    """Whether (N,) all rows hold at the grid of settings of each cell, ``half`` (N, d) wide along ``drives``."""
    closed = np.ones(len(half), dtype=bool)
    if not held_twice(mechanism) or not len(half):
        return closed
    nodes = next((n for n in NODES if len(half) * n ** len(drives) <= MOST_POINTS), 2)
    for shares in product(NODES[nodes], repeat=len(drives)):
        if not any(shares):
            continue
        left = np.flatnonzero(closed)
        settings = centres.settings[left].copy()
        settings[:, list(drives)] += np.array(shares) * half[left][:, list(drives)]
        closed[left] = follow(mechanism, centres, left, settings).reached
    return closed
