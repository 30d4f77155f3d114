"""How near a surface comes to every curve of a given length between two points, bounded from below.

All points with |PA| + |PB| <= L fill an ellipsoid of revolution about A and B. Any curve of length L between A and B
lies in it, because the way over each of its points is no longer than the curve.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assembly.geometry.mesh import Floats, Ids, Mesh
from assembly.time_limit import check_time

BLOCK = 1 << 18
"""Pairs of posture and lot of facets worked on at once."""
PAIRS = 1 << 15
"""Of these, so many are looked at closely at once."""
LOT = 32
"""Facets that are told by one ball where they are far."""
MOST_FACETS = 40_000
THINNEST = 1e-3
"""mm: no ellipsoid is taken thinner."""
ROUNDS = 4


def facets_to_size(mesh: Mesh, longest: float) -> Floats:
    """The triangles (T, 3, 3) of a mesh, halved across their longest edges until none is longer than ``longest`` mm.

    Where they would be too many they stay longer.
    """
    facets = mesh.vertices[mesh.faces]
    while True:
        edges = np.linalg.norm(np.roll(facets, -1, axis=1) - facets, axis=2)
        long = edges.max(axis=1) > longest
        if not long.any() or len(facets) + int(long.sum()) > MOST_FACETS:
            return np.asarray(facets)
        turn = (edges[long].argmax(axis=1)[:, None] + np.arange(3)) % 3
        a, b, c = np.moveaxis(np.take_along_axis(facets[long], turn[:, :, None], axis=1), 1, 0)
        middle = (a + b) / 2
        halves = np.concatenate([np.stack([a, middle, c], axis=1), np.stack([middle, b, c], axis=1)])
        facets = np.concatenate([facets[~long], halves])


@dataclass(frozen=True, slots=True, eq=False)
class FacetLots:
    """Facets (T, 3, 3) in lots of neighbours, each lot the next ``LOT`` of them, with the balls that hold them.

    ``middles`` (T, 3) and ``balls`` (T,): of the facets; ``centres`` (K, 3) and ``radii`` (K,): of the lots.
    """

    facets: Floats
    middles: Floats
    balls: Floats
    centres: Floats
    radii: Floats

    @classmethod
    def of(cls, facets: Floats) -> FacetLots:
        """``facets`` (T, 3, 3), at least one, put together by where they lie."""
        facets = facets[_packed(facets.mean(axis=1))]
        middles = facets.mean(axis=1)
        balls = np.linalg.norm(facets - middles[:, None], axis=2).max(axis=1)
        starts = np.arange(0, len(facets), LOT)
        counts = np.diff(np.append(starts, len(facets)))
        centres = np.add.reduceat(middles, starts) / counts[:, None]
        reach = np.linalg.norm(middles - np.repeat(centres, counts, axis=0), axis=1) + balls
        return cls(facets, middles, balls, centres, np.maximum.reduceat(reach, starts))


def _packed(points: Floats) -> Ids:
    """An order of points (T, 3) in which neighbours follow each other: slabs along x, columns along y, then z."""
    ways = max(1, round((len(points) / LOT) ** (1 / 3)))
    rank = np.empty(len(points), dtype=np.intp)
    rank[np.argsort(points[:, 0], kind="stable")] = np.arange(len(points))
    slab = rank * ways // len(points)
    rank[np.lexsort((points[:, 1], slab))] = np.arange(len(points))
    column = rank * ways**2 // len(points)
    return np.asarray(np.lexsort((points[:, 2], column)))


def least_gap(lots: FacetLots, a: Floats, b: Floats, length: Floats, enough: float = np.inf) -> Floats:
    """A lower bound (N,) on the distance from the facets of ``lots`` to N such ellipsoids; below 0 they may meet.

    ``a`` and ``b`` (N, 3) are the foci, ``length`` (N,) the sums; where it is less than how far they are apart, the
    straight between them is meant. What is farther than ``enough`` is told as that. Whatever lies beyond a plane that
    touches the ellipsoid is at least so far away as it lies beyond the plane: of each facet that is told of the plane
    that is about square to the shortest way to its middle, and of the ball round it, whichever tells more.
    """
    shapes = _Ellipsoids.about(a, b, length)
    least = np.full(len(a), enough)
    step = max(1, BLOCK // len(lots.radii))
    for start in range(0, len(a), step):
        check_time()
        rows = np.arange(start, min(start + step, len(a)))
        coarse = shapes.take(rows[:, None]).beyond_balls(lots.centres, lots.radii)
        _look_at(lots, shapes, rows, coarse.argmin(axis=1), least)
        # No facet can tell less than the ball round its lot does, so most lots need not be looked at.
        which, lot = np.nonzero(coarse < least[rows, None])
        order = np.argsort(coarse[which, lot], kind="stable")
        for some in range(0, len(order), PAIRS // LOT):
            part = order[some : some + PAIRS // LOT]
            part = part[coarse[which[part], lot[part]] < least[rows[which[part]]]]
            _look_at(lots, shapes, rows[which[part]], lot[part], least)
    return least


def _look_at(lots: FacetLots, shapes: _Ellipsoids, rows: Ids, lot: Ids, least: Floats) -> None:
    """Lower ``least`` (N,) to what the facets of one lot each tell of some ``rows`` of it."""
    facet = np.minimum(lot[:, None] * LOT + np.arange(LOT), len(lots.balls) - 1)
    coarse = shapes.take(rows[:, None]).beyond_balls(lots.middles[facet], lots.balls[facet])
    pair, number = np.nonzero(coarse < least[rows, None])
    row = rows[pair]
    told = _beyond(lots.facets[facet[pair, number]], shapes.take(row))
    np.minimum.at(least, row, np.maximum(told, coarse[pair, number]))


@dataclass(frozen=True, slots=True, eq=False)
class _Ellipsoids:
    """N ellipsoids of revolution: ``centres`` (N, 3), unit ``axis`` (N, 3), semi-axes ``half`` and ``across`` (N,)."""

    centres: Floats
    axis: Floats
    half: Floats
    across: Floats
    foci: tuple[Floats, Floats]

    @classmethod
    def about(cls, a: Floats, b: Floats, length: Floats) -> _Ellipsoids:
        """Those of these foci and sums."""
        apart = np.linalg.norm(b - a, axis=1)
        axis = (b - a) / np.maximum(apart, 1e-300)[:, None]
        half = np.maximum(np.maximum(length, apart) / 2, THINNEST)
        across = np.sqrt(np.maximum(half**2 - (apart / 2) ** 2, THINNEST**2))
        return cls((a + b) / 2, axis, half, across, (a, b))

    def take(self, index: Ids) -> _Ellipsoids:
        """Those at ``index``."""
        foci = self.foci[0][index], self.foci[1][index]
        return _Ellipsoids(self.centres[index], self.axis[index], self.half[index], self.across[index], foci)

    def beyond_balls(self, centres: Floats, radii: Floats) -> Floats:
        """How far balls at least lie beyond them: half of what the sums to both foci are more than theirs."""
        ways = (centres - focus for focus in self.foci)
        sums = sum(np.sqrt(np.einsum("...k,...k->...", way, way)) for way in ways)
        return np.asarray(sums / 2 - self.half - radii)


def _beyond(facets: Floats, shapes: _Ellipsoids) -> Floats:
    """How far (N,) each of ``facets`` (N, 3, 3) lies beyond a plane that touches its ellipsoid."""
    away = facets.mean(axis=1) - shapes.centres
    along = np.einsum("nk,nk->n", away, shapes.axis)
    radial = away - along[:, None] * shapes.axis
    size = np.linalg.norm(radial, axis=1)
    outward = radial / np.maximum(size, 1e-300)[:, None]
    from_centre = facets - shapes.centres[:, None]
    beside = np.zeros_like(along), np.ones_like(along)
    found = []
    # Of a needle the nearest point is hard to close in on, but most facets lie beside it.
    for first, second in (_normals(np.abs(along), size, shapes.half, shapes.across), beside):
        normal = (np.sign(along) * first)[:, None] * shapes.axis + second[:, None] * outward
        support = np.hypot(shapes.half * first, shapes.across * second)
        found.append(np.einsum("nk,nck->nc", normal, from_centre).min(axis=1) - support)
    return np.asarray(np.maximum(*found))


def _normals(x: Floats, y: Floats, half: Floats, across: Floats) -> tuple[Floats, Floats]:
    """Unit normals (N,) of an ellipse about where it is nearest to points of its first quadrant.

    Nearest points are closed in on by circles about the evolute; wherever it stops, the normal is one of the ellipse.
    """
    cosine = sine = np.full_like(x, np.sqrt(0.5))
    for _ in range(ROUNDS):
        p, q = (half**2 - across**2) * cosine**3 / half, (across**2 - half**2) * sine**3 / across
        radius = np.hypot(half * cosine - p, across * sine - q)
        size = np.maximum(np.hypot(x - p, y - q), 1e-300)
        cosine = np.clip(((x - p) * radius / size + p) / half, 0.0, 1.0)
        sine = np.clip(((y - q) * radius / size + q) / across, 0.0, 1.0)
        whole = np.maximum(np.hypot(cosine, sine), 1e-300)
        cosine, sine = cosine / whole, sine / whole
    first, second = cosine / half, sine / across
    whole = np.maximum(np.hypot(first, second), 1e-300)
    return first / whole, second / whole
