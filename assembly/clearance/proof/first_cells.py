"""The first cells over some drives: an even lattice, as coarse as the motion can mostly be proven on.

Two bodies' motion against each other depends on some of the drives only, and what is proven with the others at rest
holds wherever they stand (``cell_groups``). So few drives are cut at a time. Drives that no loop has in common get
their counts each for itself.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np

from assembly.clearance.proof.cache_keys import digest_of, motion_of
from assembly.clearance.proof.cells import Cells, Drives, even_lattice, lattice_cells
from assembly.clearance.proof.proven_cells import prove
from assembly.geometry.mesh import Flags, Floats, Ids
from assembly.kinematics.cell_motion import CellMotion, bound_motion
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.solver import solve

MOST_FIRST_CELLS = 4096
SAMPLED_CELLS = 49
PROVEN_SHARE = 0.85
"""Share of the sampled cells, of those that can be assembled, that must be proven for a lattice to be fine enough."""
FINER = 1.25
"""How much finer the next lattice tried is."""

Counts = tuple[tuple[tuple[int, ...], tuple[int, ...]], ...]
"""Sets of drives, each with its first cells along every drive."""


class FirstCounts:
    """How many first cells there are along each drive, for sets of drives, by a key of all that moves them.

    ``known`` by now; of the keys ``grown`` more was worked out than was known before.
    """

    def __init__(self) -> None:
        self.known: dict[str, Counts] = {}
        self.grown: set[str] = set()

    def of(self, mechanism: Mechanism, drives: Drives, make: Callable[[], Ids]) -> Ids:
        """The counts (d,) for ``drives``: those known, or what ``make`` gives."""
        key = counts_key(mechanism)
        counts = dict(self.known.get(key, ())).get(drives)
        if counts is None:
            counts = tuple(make().tolist())
            self.known[key] = (*self.known.get(key, ()), (drives, counts))
            self.grown.add(key)
        return np.array(counts, dtype=np.intp)


def counts_key(mechanism: Mechanism) -> str:
    """The key of the counts of a machine, or of what it is reduced to."""
    return digest_of(("first cells", motion_of(mechanism)))


def cells_over(mechanism: Mechanism, drives: Drives | None = None, first: FirstCounts | None = None) -> Cells:
    """Cells over ``drives``, all if none are given, the others at rest; proven as far as they can be.

    ``first``: how finely the first ones are cut, where that was worked out before.
    """
    every = list(mechanism.machine.drives.values())
    numbers: Drives = tuple(range(len(every))) if drives is None else drives
    cut = np.isin(np.arange(len(every)), numbers)
    low = np.where(cut, [drive.low for drive in every], 0.0)
    width = np.where(cut, [drive.high - drive.low for drive in every], 0.0)
    whole = solve(mechanism, (low + width / 2)[None])
    rates = _rates(mechanism, bound_motion(mechanism, whole, width[None] / 2))
    count = partial(_counts, mechanism, numbers, low, width, rates)
    counts = count() if first is None else first.of(mechanism, numbers, count)
    cells = lattice_cells(mechanism, *even_lattice(low, width, counts))
    cells.roots, cells.unresolved = prove(cells, rates)
    return cells


def _counts(mechanism: Mechanism, drives: Drives, low: Floats, width: Floats, rates: Floats) -> Ids:
    """Cells (d,) along each drive: as each set of drives that blocks share needs alone."""
    counts = np.ones(len(width), dtype=np.intp)
    for together in mechanism.system.drives_together(drives):
        alone = np.isin(np.arange(len(width)), together)
        counts = np.maximum(counts, _coarsest(mechanism, alone, low, width, rates))
    while np.prod(counts) > MOST_FIRST_CELLS:
        counts = np.where(counts == counts.max(), np.maximum(1, counts - 1), counts)
    return counts


def _coarsest(mechanism: Mechanism, alone: Flags, low: Floats, width: Floats, rates: Floats) -> Ids:
    """Cells (d,) along each drive of the coarsest even lattice over the drives ``alone`` that is mostly proven."""
    reach = np.where(alone, width * rates, 0.0)
    widest = float(reach.max(initial=0.0))
    counts = np.ones(len(reach), dtype=np.intp)
    while not _mostly_proven(mechanism, *(np.where(alone, array, 0.0) for array in even_lattice(low, width, counts))):
        widest /= FINER
        finer = np.maximum(1, np.ceil(reach / max(widest, 1e-9))).astype(np.intp)
        if np.prod(finer) > MOST_FIRST_CELLS:
            break
        counts = finer
    return counts


def _mostly_proven(mechanism: Mechanism, centres: Floats, half: Floats) -> bool:
    """Whether a sample of a lattice is; a few cells can show that too many are not."""
    sample = np.unique(np.linspace(0, len(centres) - 1, SAMPLED_CELLS).astype(np.intp))
    proven = np.zeros(0, dtype=bool)
    parts = sample[::4], np.delete(sample, np.s_[::4])
    for some in (part for part in parts if len(part)):
        solved = solve(mechanism, centres[some])
        proven = np.append(proven, bound_motion(mechanism, solved, half[some]).certified[solved.reached])
        if (~proven).sum() > (1 - PROVEN_SHARE) * len(sample):
            return False
    return not len(proven) or bool(proven.mean() >= PROVEN_SHARE)


def _rates(mechanism: Mechanism, motion: CellMotion) -> Floats:
    """How far in mm each drive moves the farthest-moving body per unit at the middle of the range (d,)."""
    scale = mechanism.equations.scale
    pace = np.linalg.norm(motion.shift_rate[0], axis=-1) + scale * np.linalg.norm(motion.turn_rate[0], axis=-1)
    span = np.array([drive.high - drive.low for drive in mechanism.machine.drives.values()])
    widest = 1.0 / np.maximum(span, 1e-12)
    return np.asarray(np.where(np.isfinite(pace).all(), pace.max(axis=0, initial=0.0), widest) + 1e-6 * widest)
