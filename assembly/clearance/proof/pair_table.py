"""What a survey of given cells looks at: the pairs of a machine, shape by shape, and the two figures made of them.

The figures are the distance, and the room: the distance less what the pair must keep. Of all pairs the smallest
counts; where pairs must keep different clearances, the two may belong to different pairs.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from assembly.clearance.narrow_phase.queries import Bench, Job, job_at
from assembly.clearance.proof.pair_search import PairSearch, PieceSearch
from assembly.clearance.proof.rolled_pair import RolledPair, rolled_pair
from assembly.clearance.proof.solid_table import SolidTable
from assembly.geometry.mesh import Floats
from assembly.kinematics.mechanism import Mechanism
from assembly.kinematics.rod_roll import rods_of
from assembly.kinematics.rows import Posture

DISTANCE, ROOM = 0, 1
"""Rows of the two figures."""

Item = TypeVar("Item")


class PairTable:
    """The pairs of ``solid_table``, moved by ``mechanism`` and measured on ``bench``.

    ``proven`` (P,) mm: what a sweep has proven of each pair at all settings that will be asked about.
    """

    def __init__(
        self, mechanism: Mechanism, solid_table: SolidTable, bench: Bench, proven: Floats | None = None
    ) -> None:
        self.mechanism, self.solid_table, self.bench = mechanism, solid_table, bench
        self.proven = np.full(len(solid_table.searches), -np.inf) if proven is None else proven
        """(P,) mm: what a sweep has proven of each pair wherever it is looked at here, -inf for nothing."""
        required = np.array([search.pair.required for search in solid_table.searches], dtype=np.float64)
        self.taken_off = np.stack([np.zeros_like(required), required])
        """(2, P) mm: what is taken off a pair's distance for each of the two figures."""
        self.wholes = [PieceSearch(search, search.a, search.b) for search in solid_table.searches]
        """Every pair with both its parts whole."""
        self.still = [(number, whole) for number, whole in enumerate(self.wholes) if not whole.search.rolls]
        """Those that no roll moves, with their numbers: one posture for each setting tells all of them."""
        self.rolling = [(number, whole.search) for number, whole in enumerate(self.wholes) if whole.search.rolls]
        """The others: they are measured over the rolls that the ends of rods allow (``rolled_least``)."""
        self.rods = {rod.number: rod for rod in rods_of(mechanism)} if self.rolling else {}
        """By the number of their roll."""
        self._rolled: dict[PairSearch, RolledPair] = {}

    def figures(self, distances: Floats, number: int) -> Floats:
        """Distance and room (2, N) of pair ``number`` from its distances (N,)."""
        return np.asarray(distances - self.taken_off[:, number, None])

    def pieces(self, number: int) -> Iterator[PieceSearch]:
        """Every shape of the first part against every shape of the second."""
        search = self.solid_table.searches[number]
        for a in self.solid_table.pieces(search.a):
            for b in self.solid_table.pieces(search.b):
                yield PieceSearch(search, a, b)

    def rolled(self, search: PairSearch) -> RolledPair:
        """A pair that rolls move, made ready when it is first asked for."""
        if search not in self._rolled:
            self._rolled[search] = rolled_pair(self.mechanism, self.solid_table, search)
        return self._rolled[search]

    def job(self, piece: PieceSearch, posture: Posture) -> Job:
        """The query that measures ``piece`` at each of N postures."""
        return job_at(self.mechanism, piece.a, piece.b, posture)


@dataclass(frozen=True, slots=True, eq=False)
class NearPiece:
    """A shape against another, of pair ``number``, that boxes do not rule out, with what boxes say (N,) mm of it."""

    number: int
    piece: PieceSearch
    bound: Floats

    @property
    def solids(self) -> tuple[int, int]:
        """The two by their numbers."""
        return self.piece.a.solid, self.piece.b.solid


def batches(items: Sequence[Item], size: int) -> Iterator[Sequence[Item]]:
    """``items`` in their order, ``size`` at a time."""
    return (items[start : start + size] for start in range(0, len(items), size))
