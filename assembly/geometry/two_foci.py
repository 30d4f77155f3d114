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
"""Pairs of posture and facet worked on at once."""
PAIRS = 1 << 15
"""Of these, so many are looked at closely at once."""
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


def least_gap(facets: Floats, a: Floats, b: Floats, length: Floats) -> Floats:
    """A lower bound (N,) on the distance from ``facets`` (T, 3, 3) to N such ellipsoids; below 0 they may meet.

    ``a`` and ``b`` (N, 3) are the foci, ``length`` (N,) the sums; where it is less than how far they are apart, the
    straight between them is meant. Whatever lies beyond a plane that touches the ellipsoid is at least so far away
    as it lies beyond the plane: of each facet that is told of the plane that is about square to the shortest way to its
    middle.
    """
    shapes = _Ellipsoids.about(a, b, length)
    middles = facets.mean(axis=1)
    balls = np.linalg.norm(facets - middles[:, None], axis=2).max(axis=1)
    least = np.full(len(a), np.inf)
    step = max(1, BLOCK // max(len(facets), 1))
    for start in range(0, len(a), step):
        check_time()
        rows = np.arange(start, min(start + step, len(a)))
        sums = sum(np.linalg.norm(middles - focus[rows, None], axis=2) for focus in (a, b))
        coarse = sums / 2 - shapes.half[rows, None] - balls
        nearest = coarse.argmin(axis=1)
        least[rows] = _beyond(facets[nearest], shapes.take(rows))
        # No other facet can tell less than its ball does, so most need not be looked at.
        which, facet = np.nonzero(coarse < least[rows, None])
        for some in range(0, len(which), PAIRS):
            each = rows[which[some : some + PAIRS]]
            np.minimum.at(least, each, _beyond(facets[facet[some : some + PAIRS]], shapes.take(each)))
    return least


@dataclass(frozen=True, slots=True, eq=False)
class _Ellipsoids:
    """N ellipsoids of revolution: ``centres`` (N, 3), unit ``axis`` (N, 3), semi-axes ``half`` and ``across`` (N,)."""

    centres: Floats
    axis: Floats
    half: Floats
    across: Floats

    @classmethod
    def about(cls, a: Floats, b: Floats, length: Floats) -> _Ellipsoids:
        """Those of these foci and sums."""
        apart = np.linalg.norm(b - a, axis=1)
        axis = (b - a) / np.maximum(apart, 1e-300)[:, None]
        half = np.maximum(np.maximum(length, apart) / 2, THINNEST)
        across = np.sqrt(np.maximum(half**2 - (apart / 2) ** 2, THINNEST**2))
        return cls((a + b) / 2, axis, half, across)

    def take(self, index: Ids) -> _Ellipsoids:
        """Those at ``index``."""
        return _Ellipsoids(self.centres[index], self.axis[index], self.half[index], self.across[index])


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
