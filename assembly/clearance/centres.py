"""The smallest distance and room of all pairs at given settings, with as few measurements as boxes allow."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from assembly.clearance.search import PieceSearch
from assembly.clearance.survey import Boxes, Flags, Near, Survey, batches
from assembly.geometry.mesh import Floats
from assembly.motion.mechanism import Solved

PAIRS_TOGETHER, PIECES_TOGETHER = 8, 24
"""How many are measured in one go, so that all cores have work; few, so that what they find can spare the others."""


class Centres:
    """Figures at N settings. Pairs are taken in the order of their nearness, and of each the nearest shapes first.

    ``found`` (2, N) mm: the smallest distance and room, infinite where a setting is not reached; ``owner`` (2, N):
    numbers of the pairs they belong to, -1 where none. ``known``: all distances measured, by the numbers of the solids.
    """

    def __init__(self, survey: Survey, solved: Solved) -> None:
        self.survey, self.solved = survey, solved
        self.found = np.full((2, len(solved.settings)), np.inf)
        self.owner = np.full(self.found.shape, -1, dtype=np.intp)
        self.known: dict[tuple[int, int], Floats] = {}
        self._boxes = Boxes(survey.mechanism, solved.posture)
        wholes = [PieceSearch(search, search.a, search.b) for search in survey.stock.searches]
        apart = [float(self._boxes.gaps(whole).mean()) for whole in wholes]
        for numbers in batches(sorted(range(len(wholes)), key=apart.__getitem__), PAIRS_TOGETHER):
            near = [one for number in numbers for one in self._near(number, wholes[number])]
            near.sort(key=lambda one: float(one.bound.mean()))
            for some in batches(near, PIECES_TOGETHER):
                self._measure(some)

    def _near(self, number: int, whole: PieceSearch) -> Iterator[Near]:
        """The shapes of a pair that are nearer at some setting than what was found there, as far as boxes tell."""
        if self._open(number, self._boxes.gaps(whole)).any():
            for piece in self.survey.pieces(number):
                gaps = self._boxes.gaps(piece)
                if self._open(number, gaps).any():
                    yield Near(number, piece, gaps)

    def _open(self, number: int, gaps: Floats) -> Flags:
        """Where (N,) a pair could still have less than what was found."""
        return np.asarray(self.solved.reached & (self.survey.figures(gaps, number) < self.found).any(axis=0))

    def _measure(self, near: Sequence[Near]) -> None:
        rows = [np.flatnonzero(self._open(one.number, one.bound)) for one in near]
        posture = self.solved.posture
        jobs = [self.survey.job(one.piece, posture.take(row)) for one, row in zip(near, rows, strict=True)]
        for one, row, distances in zip(near, rows, self.survey.bench.measure(jobs), strict=True):
            self.known[one.solids] = np.full(self.found.shape[1], np.nan)
            self.known[one.solids][row] = distances
            figures = self.survey.figures(distances, one.number)
            less = figures < self.found[:, row]
            self.owner[:, row] = np.where(less, one.number, self.owner[:, row])
            self.found[:, row] = np.minimum(self.found[:, row], figures)
