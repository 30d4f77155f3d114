"""The shapes that govern a pair's least clearance, and where: all shapes and settings as near as the bracket."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice, product

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull

from assembly.clearance.narrow_phase.checked_pairs import CheckedPair, Exclusion, Solid
from assembly.clearance.narrow_phase.distance import CollisionModel, Nearest, nearest
from assembly.clearance.narrow_phase.pair_result import Effort, PairResult, Verdict
from assembly.clearance.proof.cached import PairFound
from assembly.clearance.sensitivity.pair_place import (
    FREE,
    PairPlace,
    Standing,
    flush_places,
    nearest_shapes,
    seats_between,
    shapes_of,
)
from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import unit
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.roll_columns import allowed, roll_name
from assembly.kinematics.rows import Posture
from assembly.kinematics.solver import solve

MOST_ALIKE = 4
"""Pairs of shapes that are reported for one pair of parts."""
MOST_WAYS = 40
"""Ways out that are looked at, the shortest first."""
CLOSE_TOGETHER = 0.985
"""Cosine (10°) above which two ways out count as one."""
ALIKE = 1e-6
"""mm by which shapes at one setting may differ that are reported as the nearest."""
MOST_SETTINGS = 125
"""Settings looked at for one pair besides its own."""
BESIDE = 0.1
"""Share of each drive's range: settings nearer to each other than this are one place."""


def has_figure(found: PairFound, effort: Effort) -> bool:
    """Whether the least clearance of a pair, or its depth, is known so closely that what changes it can be reported."""
    result = found.result
    if found.witness is None or result.contained or not np.isfinite(result.least):
        return False
    near = result.least < effort.near(result.pair.required, result.surface_error) or effort.asks_for(result.pair)
    return result.verdict is Verdict.FAILS or (result.closed_in and near)


def wide_setting(mechanism: Mechanism, result: PairResult) -> Floats:
    """The setting of a pair with a column for every roll of ``mechanism``; rolls that do not move it are 0."""
    setting, at = np.zeros(len(mechanism.machine.drives)), result.overlap.at if result.overlap else result.at
    drives = len(setting) - len(mechanism.rolls)
    setting[:drives] = at[:drives]
    names = [roll_name(mechanism.bodies, mechanism.idle[number]) for number in mechanism.rolls]
    for name, value in zip(result.rolls, at[drives:], strict=True):
        setting[drives + names.index(name)] = value
    return setting


@dataclass(frozen=True, slots=True, eq=False)
class _Stand:
    """A pair at one setting (d,): its two solids and where each stands, (4, 4)."""

    pair: CheckedPair
    setting: Floats
    models: tuple[CollisionModel, CollisionModel]
    places: tuple[Floats, Floats]


@dataclass(slots=True, eq=False)
class Governing:
    """Finds the governing shapes of pairs; solids that a sweep has made ``ready`` are not made again."""

    mechanism: Mechanism
    solids: Mapping[Exclusion, Solid]
    effort: Effort
    ready: Mapping[Exclusion, CollisionModel]
    _models: dict[Exclusion, CollisionModel] = field(default_factory=dict)

    def places(self, results: Sequence[PairResult]) -> list[list[PairPlace]]:
        """The places of each pair, those at its own setting first; none where the nearest points tell no direction."""
        if not results:
            return []
        settings = [self._settings(result) for result in results]
        solved = solve(self.mechanism, np.concatenate(settings))
        rows = np.split(np.arange(len(solved.settings)), np.cumsum([len(own) for own in settings])[:-1])
        stands = solved.reached & allowed(self.mechanism, solved.posture)
        return [
            self._of_pair(result, solved.settings[own], solved.posture.take(own), stands[own])
            for result, own in zip(results, rows, strict=True)
        ]

    def distance(self, pair: CheckedPair, posture: Posture) -> float:
        """How far apart in mm two parts are at one posture."""
        places = (self.mechanism.world_from_rest(posture, part)[0] for part in (pair.a, pair.b))
        return nearest(*self._models_of(pair), *places).distance

    def nearest_at(self, pair: CheckedPair, setting: Floats, posture: Posture) -> list[PairPlace]:
        """The places of the nearest shapes of two parts at one setting."""
        first, second = (self.mechanism.world_from_rest(posture, part)[0] for part in (pair.a, pair.b))
        stand = _Stand(pair, setting, self._models_of(pair), (first, second))
        return self._alike(stand, self.distance(pair, posture) + ALIKE)

    def _settings(self, result: PairResult) -> Floats:
        """The pair's own setting, and those at which it may well be as near (N, d).

        These are the ends and the middles of the ranges of the drives that move it, and its own the other way round: a
        machine that is the same on both sides comes as near there.
        """
        own, drives = wide_setting(self.mechanism, result), list(self.mechanism.machine.drives.values())
        if result.overlap is not None:
            return own[None]
        bodies = (self.mechanism.bodies.body_of[part] for part in (result.pair.a, result.pair.b))
        moves = self.mechanism.system.drives_between(*bodies)
        count = len(drives) - len(self.mechanism.rolls)
        choices = [
            {own[k], -own[k], drives[k].low, drives[k].high, 0.0} if moves[k] and k < count else {own[k]}
            for k in range(len(drives))
        ]
        if np.prod([len(each) for each in choices]) > MOST_SETTINGS:
            choices = [each if len(each) == 1 else {own[k], -own[k]} for k, each in enumerate(choices)]
        every = np.array(list(islice(product(*map(sorted, choices)), MOST_SETTINGS)))
        within = [(every[:, k] >= drive.low) & (every[:, k] <= drive.high) for k, drive in enumerate(drives)]
        return np.concatenate([own[None], every[np.all(within, axis=0) & (every != own).any(axis=1)]])

    def _of_pair(
        self, result: PairResult, settings: Floats, posture: Posture, stands: NDArray[np.bool_]
    ) -> list[PairPlace]:
        """Places at the first of ``settings`` (N, d), and at others that are as near and not beside one before."""
        pair, models = result.pair, self._models_of(result.pair)
        first, second = (self.mechanism.world_from_rest(posture, part) for part in (pair.a, pair.b))
        if result.overlap is not None:
            return self._overlapping(result, _Stand(pair, settings[0], models, (first[0], second[0])))
        below = result.least + self.effort.bracket(result.least, result.surface_error)
        spans = np.array([drive.high - drive.low for drive in self.mechanism.machine.drives.values()])
        made: list[PairPlace] = []
        for row, setting in enumerate(settings):
            beside = any((np.abs(setting - one.settings) < BESIDE * spans).all() for one in made)
            if beside or (row and (not stands[row] or len(made) >= MOST_ALIKE)):
                continue
            stand = _Stand(pair, setting, models, (first[row], second[row]))
            if row and nearest(*models, *stand.places).distance > below:
                continue
            made += self._alike(stand, below)
        return made

    def _alike(self, stand: _Stand, below: float) -> list[PairPlace]:
        """The places of all shapes of a pair that are nearer than ``below`` mm at one setting."""
        found = nearest_shapes(stand.models[0].pieces, stand.models[1].pieces, stand.places, below)[:MOST_ALIKE]
        return [place for i, j, near in found for place in self._places(stand, (i, j), near)]

    def _overlapping(self, result: PairResult, stand: _Stand) -> list[PairPlace]:
        """The places of the shapes that stand deepest in each other, once the second is moved out each way as short."""
        overlap, models, places = result.overlap, stand.models, stand.places
        if overlap is None or not overlap.shape_a:
            return []
        numbers = models[0].solid.shapes.index(overlap.shape_a), models[1].solid.shapes.index(overlap.shape_b)
        pieces = models[0].pieces[numbers[0]], models[1].pieces[numbers[1]]
        below = overlap.depth + self.effort.bracket(overlap.depth, result.surface_error)
        ways = [np.array(overlap.direction) * overlap.depth, *ways_out(pieces, places, below)]
        made: list[PairPlace] = []
        for number, out in enumerate(ways):
            if len(made) and (_beside(out, ways[:number]) or number > MOST_WAYS):
                continue
            away, apart = places[1].copy(), out + FREE * unit(out) if out.any() else FREE * np.array(overlap.direction)
            away[:3, 3] += apart
            found = nearest(*pieces, places[0], away)
            made += self._places(replace(stand, places=(places[0], away)), numbers, found, apart)
        return made

    def _places(
        self, stand: _Stand, numbers: tuple[int, int], found: Nearest, apart: Floats | None = None
    ) -> list[PairPlace]:
        """One place, or one for each corner of the patch over which the two shapes lie flush."""
        pair, machine, body_of = stand.pair, self.mechanism.machine, self.mechanism.bodies.body_of
        trims = pair.trim_a, pair.trim_b
        sides = [
            Standing(
                part=exclusion.part,
                body=body_of[exclusion.part],
                exclusion=exclusion,
                shape=shapes_of(machine, exclusion.part, model.solid)[number],
                piece=model.pieces[number],
                world_from_part=place,
            )
            for exclusion, model, number, place in zip(trims, stand.models, numbers, stand.places, strict=True)
        ]
        moved = np.zeros(3) if apart is None else apart
        return flush_places(pair, stand.setting, (sides[0], sides[1]), found, moved, seats_between(machine, pair))

    def _models_of(self, pair: CheckedPair) -> tuple[CollisionModel, CollisionModel]:
        return self._model(pair.trim_a), self._model(pair.trim_b)

    def _model(self, exclusion: Exclusion) -> CollisionModel:
        if exclusion not in self._models:
            self._models[exclusion] = self.ready.get(exclusion) or CollisionModel(self.solids[exclusion])
        return self._models[exclusion]


def ways_out(
    pieces: tuple[CollisionModel, CollisionModel], places: tuple[Floats, Floats], below: float
) -> list[Floats]:
    """Shifts (3,) mm of the second of two convex shapes, no longer than ``below``, that free it along a face's normal.

    The shortest first; none of shapes that are not convex. How deep two shapes stand in each other at the deepest is
    often as much one way as another, and then no single way tells what a change does.
    """
    if not all(piece.convex for piece in pieces):
        return []
    first, second = (
        piece.corners @ place[:3, :3].T + place[:3, 3] for piece, place in zip(pieces, places, strict=True)
    )
    normals = np.concatenate([_normals(first), -_normals(second)])
    depths = (normals @ first.T).max(axis=1) - (normals @ second.T).min(axis=1)
    order = np.argsort(depths, kind="stable")
    return [depths[row] * normals[row] for row in order if 0 < depths[row] <= below]


def _normals(corners: Floats) -> Floats:
    """The normals (k, 3) of the faces of a convex shape."""
    return np.unique(ConvexHull(corners).equations[:, :3].round(9), axis=0)


def _beside(out: Floats, others: Sequence[Floats]) -> bool:
    """Whether a shift points about the way of one before."""
    return any(out @ other > CLOSE_TOGETHER * np.linalg.norm(out) * np.linalg.norm(other) for other in others)
