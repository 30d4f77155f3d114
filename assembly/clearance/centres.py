"""The smallest distance and room of all pairs at given settings, with as few measurements as boxes allow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from assembly.clearance.survey import Boxes, Flags, Near, Survey, batches
from assembly.clearance.tiles import Tiles
from assembly.geometry.mesh import Floats
from assembly.motion.mechanism import Solved

PAIRS_TOGETHER, PIECES_TOGETHER = 8, 24
"""How many are measured in one go, so that all cores have work; few, so that what they find can spare the others."""


class Centres:
    """Figures at N settings. Pairs are taken in the order of their nearness, and of each the nearest shapes first.

    ``found`` (2, N) mm: the smallest distance and room, infinite where a setting is not reached; ``owner`` (2, N):
    numbers of the pairs they belong to, -1 where none. ``known``: all distances measured, by the numbers of the solids.
    """

    def __init__(self, survey: Survey, solved: Solved, tiles: Tiles) -> None:
        self.survey, self.solved, self.tiles = survey, solved, tiles
        self.found = np.full((2, len(solved.settings)), np.inf)
        self.owner = np.full(self.found.shape, -1, dtype=np.intp)
        self.known: dict[tuple[int, int], Floats] = {}
        self._boxes = Boxes(survey.mechanism, solved.posture)
        wholes = [Near(number, whole, self._boxes.gaps(whole)) for number, whole in enumerate(survey.wholes)]
        wholes.sort(key=lambda one: float(one.bound.mean()))
        for some in batches(wholes, PAIRS_TOGETHER):
            pieces = [
                Near(one.number, piece, np.maximum(one.bound, self._boxes.gaps(piece)))
                for one in self._near(some)
                for piece in survey.pieces(one.number)
            ]
            near = sorted(self._near(pieces), key=lambda one: float(one.bound.mean()))
            for few in batches(near, PIECES_TOGETHER):
                self._measure(few)

    def _near(self, asked: Sequence[Near]) -> list[Near]:
        """Those that are nearer at some setting than what was found there, as far as boxes and tiles tell."""
        asked = [one for one in asked if self._open(one).any()]
        self.tiles.ask([(one.piece, np.flatnonzero(self._open(one))) for one in asked])
        asked = [replace(one, bound=np.maximum(one.bound, self.tiles.bound(one.piece))) for one in asked]
        return [one for one in asked if self._open(one).any()]

    def _open(self, one: Near) -> Flags:
        """Where (N,) a pair could still have less than what was found."""
        less = self.survey.figures(one.bound, one.number) < self.found
        return np.asarray(self.solved.reached & less.any(axis=0))

    def _measure(self, near: Sequence[Near]) -> None:
        rows = [np.flatnonzero(self._open(one)) for one in near]
        posture = self.solved.posture
        jobs = [self.survey.job(one.piece, posture.take(row)) for one, row in zip(near, rows, strict=True)]
        for one, row, distances in zip(near, rows, self.survey.bench.measure(jobs), strict=True):
            self.known[one.solids] = np.full(self.found.shape[1], np.nan)
            self.known[one.solids][row] = distances
            figures = self.survey.figures(distances, one.number)
            less = figures < self.found[:, row]
            self.owner[:, row] = np.where(less, one.number, self.owner[:, row])
            self.found[:, row] = np.minimum(self.found[:, row], figures)
