"""A sweep whose inner state is kept, and postures that are followed from rest one by one."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Any
from unittest import mock

import numpy as np
from linkage_machines import Floats
from numpy.typing import NDArray

from assembly.clearance.narrow_phase.bounding_balls import BoundingBalls, hull_corners, outline_round
from assembly.clearance.narrow_phase.checked_pairs import Exclusion, Pairs, gather_pairs
from assembly.clearance.narrow_phase.distance import CollisionModel, nearest
from assembly.clearance.narrow_phase.pair_result import Effort, PairResult
from assembly.clearance.proof import sweep as sweeping
from assembly.clearance.proof.cell_groups import CellGroups
from assembly.clearance.proof.cells import Cells
from assembly.clearance.proof.pair_state import PairsSwept
from assembly.clearance.proof.pair_verdict import judge
from assembly.kinematics.assembling import assemble
from assembly.kinematics.mechanism import Mechanism, Solved, Submechanism
from assembly.kinematics.reduced import submechanism, unreduced
from assembly.kinematics.roll_columns import allowed, nearest_allowed, with_named_rolls
from assembly.kinematics.solver import follow, solve
from assembly.model.machine import Machine

Flags = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Swept:
    """A finished sweep with its inner state: the cells it made, for each set of drives."""

    mechanism: Mechanism
    pairs: Pairs
    result: PairsSwept
    groups: CellGroups
    collision_models: Mapping[Exclusion, tuple[CollisionModel, ...]]
    """Each solid as a whole, then its shapes one by one."""
    outlines: Mapping[Exclusion, BoundingBalls]
    solids: Sequence[CollisionModel]
    """Solids by the numbers that the searches know them by."""

    def whole(self, pair: PairResult) -> tuple[CollisionModel, CollisionModel]:
        """Both solids."""
        return self.collision_models[pair.pair.trim_a][0], self.collision_models[pair.pair.trim_b][0]

    def measured(self, pair: PairResult, frames: Sequence[Floats], proven: float) -> tuple[float, float]:
        """Distance at one posture, and the least that it can be with surface errors taken off.

        The largest errors are taken off unless that falls short of ``proven``; then shape by shape its own.
        """
        a, b = self.whole(pair)
        distance = nearest(a, b, *frames).distance
        room = distance - a.solid.mesh.surface_error - b.solid.mesh.surface_error
        if room >= proven:
            return distance, room
        shapes = product(self.collision_models[pair.pair.trim_a][1:], self.collision_models[pair.pair.trim_b][1:])
        errors = ((a, b, a.solid.mesh.surface_error + b.solid.mesh.surface_error) for a, b in shapes)
        return distance, min(nearest(a, b, *frames).distance - error for a, b, error in errors)

    def unresolved(self, settings: Floats) -> Flags:
        """Whether each setting lies in a cell that was given up, so that the machine may not go together there."""
        return np.any([self.lost(cells, settings) for cells in self.groups.of_blocks()], axis=0)

    def lost(self, cells: Cells, settings: Floats) -> Flags:
        """Whether each setting (N, d) of the whole machine lies in one of ``cells`` that was given up."""
        return unresolved(cells, self.reduced_to(cells).narrowed(settings))

    def reduced_to(self, cells: Cells) -> Submechanism:
        """What the machine of ``cells``, which may roll, is reduced to."""
        base = cells.mechanism.unrolled or cells.mechanism
        every = (unreduced(self.mechanism), *self.mechanism.reduced.known.values())
        return next(one for one in every if one.mechanism is base)

    def cells_of(self, pair: PairResult) -> Cells:
        """The cells over the drives, and the rolls, that move a pair, of the machine reduced to its groups."""
        reduced = submechanism(
            self.mechanism, *(self.mechanism.bodies.body_of[part] for part in (pair.pair.a, pair.pair.b))
        )
        bodies = [reduced.mechanism.bodies.body_of[part] for part in (pair.pair.a, pair.pair.b)]
        rolls = with_named_rolls(reduced.mechanism, pair.rolls).rolls
        return self.groups.within(reduced).rolled(rolls).between(*bodies)

    def rolled(self, pair: PairResult, solved: Solved, random: np.random.Generator) -> Solved:
        """The same settings at any rolls that the ends of rods allow, where the pair's settings have such columns.

        Where they allow none the setting counts as not reached.
        """
        mechanism = with_named_rolls(self.mechanism, pair.rolls)
        if not mechanism.rolls:
            return solved
        count = len(solved.settings)
        rolls = random.uniform(-180, 180, (count, len(pair.rolls))) * random.choice([0.1, 0.3, 1.0], (count, 1))
        own = solve(mechanism, nearest_allowed(mechanism, np.concatenate([solved.settings, rolls], axis=1)))
        return replace(own, reached=solved.reached & own.reached & allowed(mechanism, own.posture))


def unresolved(cells: Cells, settings: Floats) -> Flags:
    """Whether each setting (N, d) lies in a cell that was given up, wherever the drives that are not cut stand."""
    lost, drives = cells.unresolved, list(cells.drives)
    centre, half = cells.motion.settings[lost], cells.motion.half[lost]
    away = np.abs(settings[:, None, drives] - centre[:, drives]) - half[:, drives]
    return (away <= 1e-9).all(axis=-1).any(axis=-1)


def swept(machine: Machine, effort: Effort) -> Swept:
    """The sweep of ``machine``, without overlaps and first contacts, which prove nothing and take long.

    Its pairs have the bound that was proven outside the cells that were given up, so that this is put to the test too.
    """
    mechanism = assemble(machine)
    pairs = gather_pairs(machine, mechanism.bodies)
    caught: list[Any] = []
    bound = sweeping._Sweep.bound

    def watched(state: Any) -> None:
        caught.append(state)
        state._show_strikes = lambda *_: None
        bound(state)

    with mock.patch.object(sweeping._Sweep, "bound", watched):
        result = sweeping.sweep_pairs(mechanism, pairs, effort, lambda *_: None)
    inner = caught[0]
    bounded = []
    for own, state in zip(result.pairs, inner.states, strict=True):
        proven = own.proven
        if state.search is not None:
            proven = judge(state.search, inner.groups, stopped=result.stopped, unresolved=0.0).proven
        bounded.append(replace(own, proven=proven))
    result = replace(result, pairs=tuple(bounded))
    collision_models = {
        exclusion: tuple(map(CollisionModel, (solid, *solid.pieces()))) for exclusion, solid in pairs.solids.items()
    }
    outlines = {exclusion: outline_round(hull_corners(solid.mesh)) for exclusion, solid in pairs.solids.items()}
    return Swept(mechanism, pairs, result, inner.groups, collision_models, outlines, inner.bench.collision_models)


def drives_of(cells: Cells) -> tuple[str, ...]:
    """The drives that ``cells`` are over, by name."""
    names = list(cells.mechanism.machine.drives)
    return tuple(names[drive] for drive in cells.drives)


def from_rest(mechanism: Mechanism, settings: Floats) -> Solved:
    """Postures of the settings, each followed straight from rest and not by way of a lattice."""
    return follow(mechanism, mechanism.at_rest, np.zeros(len(settings), dtype=np.intp), settings)
