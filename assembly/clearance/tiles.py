"""Groups of neighbouring cells: one distance, measured in the middle of a group, spares most of those in its cells."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from assembly.clearance.cells import Ids
from assembly.clearance.search import PieceSearch
from assembly.clearance.survey import Survey
from assembly.geometry.mesh import Floats
from assembly.motion.solver import solve
from assembly.motion.travel import bound_motion

CELLS = 4
"""About as many cells make a tile."""


class Tiles:
    """T tiles over N cells with centres ``settings`` and half-widths ``half`` (N, d), of which tile ``of`` (N,) each is.

    A piece's bounds say how near it can come anywhere in a tile; they are made where they are asked for.
    """

    def __init__(self, survey: Survey, settings: Floats, half: Floats) -> None:
        self.survey = survey
        self.of, count = _tile_numbers(settings)
        low, high = np.full((count, settings.shape[1]), np.inf), np.full((count, settings.shape[1]), -np.inf)
        np.minimum.at(low, self.of, settings - half)
        np.maximum.at(high, self.of, settings + half)
        self._solved = solve(survey.mechanism, (low + high) / 2)
        self._motion = bound_motion(survey.mechanism, self._solved, (high - low) / 2)
        self._bounds: dict[tuple[int, int], Floats] = {}

    def bound(self, piece: PieceSearch) -> Floats:
        """Bounds (N,) mm on the true distance of ``piece`` in every cell; minus infinity where nothing is known."""
        known = self._bounds.get((piece.a.solid, piece.b.solid))
        return np.full(len(self.of), -np.inf) if known is None else known[self.of]

    def ask(self, wanted: Sequence[tuple[PieceSearch, Ids]]) -> None:
        """Make the bounds of each piece in the tiles of the cells, by their numbers, for which it is wanted."""
        looks, jobs = [], []
        for piece, cells in wanted:
            bounds = self._bounds.setdefault((piece.a.solid, piece.b.solid), np.full(len(self._motion), -np.inf))
            tiles = np.unique(self.of[cells])
            tiles = tiles[np.isinf(bounds[tiles]) & self._motion.certified[tiles]]
            motion = self._motion.take(tiles)
            looks.append((bounds, tiles, piece.travel(motion, self.survey.mechanism.bodies.centres) + piece.errors))
            jobs.append(self.survey.job(piece, motion.posture))
        for (bounds, tiles, less), distances in zip(looks, self.survey.bench.measure(jobs), strict=True):
            bounds[tiles] = distances - less


def _tile_numbers(settings: Floats) -> tuple[Ids, int]:
    """The tile of each cell, and how many tiles there are."""
    steps = [np.unique(values, return_inverse=True)[1].reshape(-1) for values in settings.T]
    spread = sum(step.max(initial=0) > 0 for step in steps)
    side = max(1, round(CELLS ** (1 / max(1, spread))))
    tiles, of = np.unique(np.stack([step // side for step in steps], axis=1), axis=0, return_inverse=True)
    return of.reshape(-1), len(tiles)
