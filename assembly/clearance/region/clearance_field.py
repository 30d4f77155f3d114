"""The smallest distance and room of all pairs over a lattice: found at the centres, and proven in the cells."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from assembly.clearance.narrow_phase.distance import contained_at
from assembly.clearance.proof.cells import lattice_cells
from assembly.clearance.proof.lower_bound import Method, lower_bound
from assembly.clearance.proof.pair_table import PairTable
from assembly.clearance.proof.roll_fan import least_at_any_roll, roll_travel
from assembly.clearance.proof.solid_table import SweptBoxes
from assembly.clearance.region.lattice_distances import LatticeDistances, measured_lattice
from assembly.clearance.region.lattice_patches import patches_of
from assembly.clearance.region.map_bounds import prove_cells
from assembly.geometry.mesh import Flags, Floats, Ids
from assembly.kinematics.cell_motion import CellMotion
from assembly.kinematics.solver import solve
from assembly.kinematics.travel import Displacement, curl
from assembly.time_limit import check_time


@dataclass(frozen=True, slots=True, eq=False)
class Field:
    """Figures of N cells and P pairs; infinite, and the pair -1, where the centre cannot be reached.

    ``found`` (2, N) mm: smallest distance and smallest room at the centre, with the numbers of their pairs in
    ``owner`` (2, N). ``proven`` (2, N) mm: no setting of the cell has less; nan where the motion is not
    proven in the whole cell. ``apart`` (P, N): the surfaces of a pair are proven not to meet in the cell.
    """

    settings: Floats
    reached: Flags
    found: Floats
    owner: Ids
    proven: Floats
    apart: Flags

    def joined(self, other: Field) -> Field:
        """These cells and those of ``other`` after them."""
        return Field(
            *(np.concatenate([getattr(self, name), getattr(other, name)], axis=-1) for name in Field.__slots__)
        )


def field_over(
    pair_table: PairTable, settings: Floats, half: Floats, measured: LatticeDistances | None = None
) -> Field:
    """The field of cells with centres ``settings``, a whole lattice, and half-widths ``half`` (N, d) in drive units.

    ``measured``: the distances at the centres, where they are known already.
    """
    cells = lattice_cells(pair_table.mechanism, settings, half)
    first = cells.motion
    centres = measured or measured_lattice(pair_table, cells.solved(cells.first))
    proof = prove_cells(pair_table, cells, centres)
    proven = np.minimum(proof.lowest, centres.found)
    _take_in_rolling(pair_table, first, proven)
    reached = cells.reached[cells.first]
    return Field(settings, reached, centres.found, centres.owner, proven, proof.apart & reached)


def _take_in_rolling(pair_table: PairTable, motion: CellMotion, proven: Floats) -> None:
    """Lower ``proven`` (2, N) in place to what pairs that rolls move keep at any roll at all.

    Where a cell turns a body by an angle, its rolled points go no farther beyond its unrolled ones than by that angle
    times their distance (at most ``roll_travel``).
    """
    mechanism = pair_table.mechanism
    boxes, none = SweptBoxes(mechanism, motion), np.zeros(len(motion))
    turns = motion.turn + np.stack([curl(motion, body) for body in range(motion.turn.shape[1])], axis=1)
    turns = turns + motion.turn_rest
    for number, search in pair_table.rolling:
        whole, travel = pair_table.wholes[number], roll_travel(mechanism, search)
        gone = boxes.displacement(whole.a).whole + boxes.displacement(whole.b).whole
        gone = gone + travel * (turns[:, whole.a.body] + turns[:, whole.b.body])
        with np.errstate(invalid="ignore"):
            wanted = (proven + pair_table.taken_off[:, number, None]).max(axis=0)
            enough = np.nan_to_num(wanted + gone, posinf=0.0)
        open_ = wanted > pair_table.proven[number]
        if not open_.any():
            continue
        enough = np.where(open_, enough, -np.inf)
        known = max(0.0, float(pair_table.proven[number]))
        least = least_at_any_roll(mechanism, pair_table.bench, search, motion.posture, enough, known + gone)
        far, rounding = Displacement(gone, none), boxes.rounding(whole)
        sure = lower_bound(Method.CARRIED, least, far, whole.surface_error, rounding).lower
        sure = np.fmax(sure, known)
        proven[:] = np.minimum(proven, pair_table.figures(sure, number))


def with_contained(pair_table: PairTable, field: Field, counts: tuple[int, ...]) -> Field:
    """``field`` with no distance left where one of a pair lies inside the other.

    Surfaces must meet on the way in. So over cells side by side in which they do not, one look settles
    all; the others are looked at one by one. ``counts``: cells of the lattice along each drive.
    """
    open_ = [number for number, _ in pair_table.still if pair_table.proven[number] <= 0]
    patches = [patch for number in open_ for patch in _patches(field, pair_table, number, counts)]
    seen, rows = np.unique(np.array([patch.seen for patch in patches], dtype=np.intp), return_inverse=True)
    posture = solve(pair_table.mechanism, field.settings[seen]).posture
    found, owner, proven = field.found.copy(), field.owner.copy(), field.proven.copy()
    for patch, row in zip(patches, rows, strict=True):
        whole, cells = pair_table.wholes[patch.number], patch.cells
        job, collision_models = pair_table.job(whole, posture.take(row[None])), pair_table.bench.collision_models
        if contained_at(collision_models[job.a], collision_models[job.b], job.a_from_b, np.zeros(1))[0]:
            nothing = pair_table.figures(np.zeros(1), patch.number)
            owner[:, cells] = np.where(nothing < found[:, cells], patch.number, owner[:, cells])
            found[:, cells] = np.minimum(found[:, cells], nothing)
            proven[:, cells] = np.minimum(proven[:, cells], nothing)
    return replace(field, found=found, owner=owner, proven=proven)


@dataclass(frozen=True, slots=True, eq=False)
class _Patch:
    """Cells in all of which pair ``number`` is as it is in the cell ``seen``: inside one another, or not."""

    number: int
    cells: Ids
    seen: int


def _patches(field: Field, pair_table: PairTable, number: int, counts: tuple[int, ...]) -> Iterator[_Patch]:
    """All cells in which a look could lower the figures of the cell."""
    check_time()
    names = patches_of(field.apart[number], counts)
    for name in range(1, int(names.max(initial=0)) + 1):
        cells = np.flatnonzero(names == name)
        yield _Patch(number, cells, int(cells[0]))
    lower = (pair_table.figures(np.zeros(1), number) < field.found).any(axis=0)
    for cell in np.flatnonzero(~field.apart[number] & field.reached & lower).tolist():
        yield _Patch(number, np.array([cell]), cell)
