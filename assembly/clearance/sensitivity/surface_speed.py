"""How fast a solid's surface moves along a direction as its numbers change: the surface part of a gap's slope.

A shape that is made again with a number slightly changed has the same facets with corners a little elsewhere, and a
point of a facet goes with its corners. Where a seat's ball was cut away, facets of the cut go with the ball. At an edge
or a corner the direction is a sum, none negative, of the normals of the facets that meet there, and the surface's speed
along it the same sum of the facets' own speeds: sliding along an edge costs no distance (closed form).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import nnls

from assembly.geometry.mesh import Floats, Mesh

ON_FACET = 1e-5
"""mm: a point so near to a facet lies on it."""
UNEXPLAINED = 0.02
"""Share of a direction that the facets at its point may leave open, from rounding of thin ones."""
LEAST_AREA = 1e-9
"""mm² of a facet that has a normal."""


@dataclass(frozen=True, slots=True, eq=False)
class Ball:
    """A ball that was cut away: middle (3,) mm as drawn, radius, and how fast both change."""

    centre: Floats
    radius: float
    moves: Floats
    grows: float

    def speed(self, point: Floats) -> Floats:
        """How fast (3,) a point of the ball's facets moves."""
        return np.asarray(self.moves + self.grows * (point - self.centre) / self.radius)


@dataclass(frozen=True, slots=True, eq=False)
class _Facet:
    """A facet at the point: its ``share`` of the direction, its normal, and the facet of the shape as drawn it lies on.

    ``drawn`` is None for one of a ball that was cut away, whose ``middle`` (3,) moves as the ball does.
    """

    share: float
    normal: Floats
    drawn: int | None
    middle: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Footing:
    """What of a shape makes up a direction at one of its points, both as drawn in its part.

    ``facets`` is None where they do not make it up.
    """

    point: Floats
    shape: Mesh
    facets: tuple[_Facet, ...] | None

    def speed(self, speeds: Floats, balls: Sequence[Ball]) -> float | None:
        """How fast the surface moves along the direction, mm per unit, where the shape's corners do at ``speeds``.

        ``speeds`` is (n, 3); no ``balls`` are balls that stand still. None where it is not known.
        """
        if self.facets is None:
            return None
        total = 0.0
        for facet in self.facets:
            if facet.drawn is not None:
                moved = _at(self.shape, speeds, facet.drawn, self.point)
                total += facet.share * float(facet.normal @ moved)
            elif balls:
                moved = _nearest_ball(balls, self.point).speed(facet.middle)
                total += facet.share * float(facet.normal @ moved)
        return total


def footing(piece: Mesh, face: int, point: Floats, outward: Floats, shape: Mesh) -> Footing:
    """What makes up the unit direction ``outward`` (3,) at a ``point`` (3,) of ``piece``, which lies on its ``face``.

    ``shape`` is what it was before balls were cut away.
    """
    if piece is shape:
        return Footing(point, shape, (_Facet(1.0, outward, face, point),))
    facets = facets_at(piece, point)
    if not facets:
        return Footing(point, shape, None)
    normals = _normals(piece, facets)
    shares, left = nnls(normals.T, outward)
    if left > UNEXPLAINED:
        return Footing(point, shape, None)
    whole = facets_at(shape, point)
    drawn = list(zip(whole, _normals(shape, whole), strict=True))
    made = []
    for number, normal, share in zip(facets, normals, shares.tolist(), strict=True):
        if share > 0:
            lies_on = next((other for other, way in drawn if way @ normal > 1.0 - ON_FACET), None)
            made.append(_Facet(share, normal, lies_on, piece.vertices[piece.faces[number]].mean(axis=0)))
    return Footing(point, shape, tuple(made))


def _at(mesh: Mesh, speeds: Floats, face: int, point: Floats) -> Floats:
    """Speed (3,) of the facet's point at ``point``."""
    corners = mesh.faces[face]
    return np.asarray(_shares(mesh.vertices[corners], point) @ speeds[corners])


def _shares(corners: Floats, point: Floats) -> Floats:
    """Barycentric coordinates (..., 3) of a point in triangles (..., 3, 3)."""
    a, b, c = (corners[..., k, :] for k in range(3))
    u, v, w = b - a, c - a, point - a
    uu, uv, vv = (u * u).sum(-1), (u * v).sum(-1), (v * v).sum(-1)
    wu, wv = (w * u).sum(-1), (w * v).sum(-1)
    size = np.maximum(uu * vv - uv * uv, 1e-300)
    first, second = (vv * wu - uv * wv) / size, (uu * wv - uv * wu) / size
    return np.stack([1.0 - first - second, first, second], axis=-1)


def facets_at(mesh: Mesh, point: Floats) -> list[int]:
    """Numbers of the facets that ``point`` lies on."""
    corners = mesh.vertices[mesh.faces]
    low, high = corners.min(axis=1) - ON_FACET, corners.max(axis=1) + ON_FACET
    near = np.flatnonzero(((point >= low) & (point <= high)).all(axis=1))
    crossed = np.cross(corners[near, 1] - corners[near, 0], corners[near, 2] - corners[near, 0])
    area = np.linalg.norm(crossed, axis=1)
    near, crossed, area = near[area > LEAST_AREA], crossed[area > LEAST_AREA], area[area > LEAST_AREA]
    off = np.abs(((point - corners[near, 0]) * crossed).sum(axis=1)) / area
    lengths = np.linalg.norm(np.ptp(corners[near], axis=1), axis=1)
    inside = _shares(corners[near], point).min(axis=1) >= -ON_FACET - ON_FACET * lengths**2 / area
    return [int(number) for number in near[(off <= ON_FACET) & inside]]


def _normals(mesh: Mesh, facets: Sequence[int]) -> Floats:
    corners = mesh.vertices[mesh.faces[list(facets)]]
    crossed = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return np.asarray(crossed / np.linalg.norm(crossed, axis=1)[:, None])


def _nearest_ball(balls: Sequence[Ball], point: Floats) -> Ball:
    return min(balls, key=lambda ball: abs(float(np.linalg.norm(point - ball.centre)) - ball.radius))
