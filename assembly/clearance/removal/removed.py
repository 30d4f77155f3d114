"""What must go from the shapes of one part so that a pair keeps a clearance over the whole range, and what stays."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import inf
from pathlib import Path

from assembly.clearance.narrow_phase.bounding_balls import Side
from assembly.clearance.narrow_phase.checked_pairs import CheckedPair, Exclusion, Pairs
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.narrow_phase.queries import Bench
from assembly.clearance.proof.cell_groups import CellGroups
from assembly.clearance.proof.lower_bound import no_bounds
from assembly.clearance.proof.pair_search import PairSearch, PieceSearch
from assembly.clearance.proof.pair_state import PairState
from assembly.clearance.proof.piece_questions import PieceRefinement
from assembly.clearance.proof.refiner import Tiling, refine_measured
from assembly.clearance.proof.solid_table import SolidTable
from assembly.clearance.proof.stages import DECIDE_AT_ONCE, SMALLEST_CUT, SearchStages
from assembly.clearance.removal.setting_cells import SettingCells
from assembly.clearance.removal.swept_field import SweptField, SweptVolume
from assembly.geometry.mesh import Flags, Mesh
from assembly.geometry.shapes import sphere
from assembly.geometry.solids import cut_out, difference, simplifier, union
from assembly.model.machine import Machine
from assembly.model.seats import SEAT_FACET_ERROR
from assembly.progress import no_progress
from assembly.time_limit import check_time

TRIAL = Effort(decide_only=True, strikes_shown=False)
FLATTENED = 0.03
"""mm by which the border may be moved where its facets are made fewer."""
SPARE = 0.05
"""mm more than all that is known of: what the sweep afterwards has to work with."""
LEAST_GROWTH = 0.6
"""mm by which the other part is grown at least: for less it would have to be looked at too finely."""


@dataclass(frozen=True, slots=True, eq=False)
class ShapeRemoval:
    """Of one shape: ``gone`` and ``kept`` as drawn, and which facets of what goes are ``old`` surface.

    Of what was added to the clearance, mm: ``errors``: of both surfaces and the query; ``travel`` and ``lattice`` as in
    ``SweptVolume``; ``spare``.
    """

    shape: str
    whole: Mesh
    gone: Mesh
    old: Flags
    kept: Mesh
    errors: float
    travel: float
    lattice: float
    spare: float


def removals(groups: CellGroups, pairs: Pairs, pair: CheckedPair, part: str, wanted: float) -> tuple[ShapeRemoval, ...]:
    """What must go from each shape of ``part``, one of the pair, so that it keeps ``wanted`` mm; shape by shape.

    Raises UnsettledError where what is proven of the motion does not tell it.
    """
    table = SolidTable(groups.mechanism, pairs.solids)
    shapes = {shape.name: shape.mesh for shape in groups.mechanism.machine.parts[part].shapes}
    trim = pair.trim_a if pair.a == part else pair.trim_b
    found: dict[str, list[tuple[SweptVolume, float]]] = {}
    for piece in _short_pieces(groups, table, pair, wanted):
        own = piece if pair.a == part else PieceSearch(piece.search, piece.b, piece.a, piece.rolls, piece.tiling)
        solid, other = table.solids[own.a.solid], table.solids[own.b.solid]
        volume = _swept(groups, own, (solid.mesh, other.mesh), wanted)
        if volume is not None:
            found.setdefault(solid.shapes[0], []).append((volume, piece.errors))
    cut = [_cut(name, shapes[name], trim, volumes, wanted) for name, volumes in found.items()]
    return tuple(one for one in cut if one is not None)


def _short_pieces(groups: CellGroups, table: SolidTable, pair: CheckedPair, wanted: float) -> list[PieceSearch]:
    """The pairs of shapes that are not proven to keep ``wanted`` mm, each with the cells in which it is not."""
    stages = SearchStages(groups, table, Bench((), Path(), None), TRIAL, no_progress, check_time)
    state = PairState(pair)
    stages.wake([state])
    search = state.search
    if search is None:
        return []
    if pair.rigidly_coupled:
        return [_at_rest(groups, search, *sides) for sides in product(table.pieces(search.a), table.pieces(search.b))]
    stages.open([search], [wanted])
    if not search.opened:
        return []

    def until_seen(piece: PieceSearch) -> tuple[float, float]:
        near = min((found[0] for found in piece.known.values()), default=inf) - piece.errors < wanted
        return (-inf, 1.0) if near else (wanted, SMALLEST_CUT)

    questions = [PieceRefinement(piece, stages.cells_of(piece), until_seen, DECIDE_AT_ONCE) for piece in search.pieces]
    refine_measured(questions, stages.bench)
    return [piece for piece in search.pieces if piece.proven < wanted]


def _at_rest(groups: CellGroups, search: PairSearch, a: Side, b: Side) -> PieceSearch:
    roots = groups.between(a.body, b.body).roots[:1]
    return PieceSearch(search, a, b, tiling=Tiling(roots, no_bounds(len(roots))))


def _swept(groups: CellGroups, piece: PieceSearch, meshes: tuple[Mesh, Mesh], wanted: float) -> SweptVolume | None:
    cells = SettingCells(piece, groups.rolled(piece.rolls).between(*piece.bodies), wanted)
    return SweptField(*meshes, cells, wanted + piece.errors + FLATTENED + spare(wanted, piece.errors)).swept()


def spare(wanted: float, errors: float) -> float:
    """What is added to the clearance beyond all that is known of, mm."""
    return max(SPARE, LEAST_GROWTH - wanted - errors - FLATTENED)


def _cut(
    name: str, whole: Mesh, trim: Exclusion, found: Sequence[tuple[SweptVolume, float]], wanted: float
) -> ShapeRemoval | None:
    """Nothing of a seat goes, which is no part of what the pair is checked for."""
    volumes, errors = [volume for volume, _ in found], max(error for _, error in found)
    balls = [sphere(at, 2 * radius, facet_error=SEAT_FACET_ERROR) for at, radius in trim.balls]
    made = difference(union(simplifier(volume.mesh)(FLATTENED) for volume in volumes), balls)
    tool, exact = replace(made, surface_error=0.0), replace(whole, surface_error=0.0)
    gone, old = cut_out(exact, tool)
    if not len(gone.faces):
        return None
    kept = replace(difference(exact, [tool]), surface_error=whole.surface_error)
    travel, lattice = max(one.travel for one in volumes), max(one.lattice for one in volumes)
    return ShapeRemoval(name, whole, gone, old, kept, errors, travel, lattice, spare(wanted, errors))


def with_removed(machine: Machine, part: str, removals_: tuple[ShapeRemoval, ...]) -> Machine:
    """``machine`` with what goes taken off the shapes of a part."""
    kept: Mapping[str, Mesh] = {one.shape: one.kept for one in removals_}
    own = machine.parts[part]
    shapes = tuple(
        replace(shape, mesh=kept[shape.name], round_about=None, ball=None) if shape.name in kept else shape
        for shape in own.shapes
    )
    return replace(machine, parts={**machine.parts, part: replace(own, shapes=shapes)})
