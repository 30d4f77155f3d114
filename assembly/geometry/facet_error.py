"""How far the facets of a mesh from a file may lie from the round surface they stand for: an estimate."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats, Indices, Mesh
from assembly.geometry.shells import edges_of, labels_of

_SHARPEST = np.deg2rad(40)
"""Facets that meet at more than this are taken for a real edge: nine or fewer sides are a polygon, not a circle."""
_FLAT = np.deg2rad(0.05)
_LEAST = 1e-4


def estimated_surface_error(mesh: Mesh) -> float:
    """Largest distance in mm between the facets and a smooth surface through the vertices, as far as the facets show.

    Where two facets of width w meet at an angle a, the circle through their corners rises w/2·tan(a/4)
    above them (closed form: width 2r·sin(a/2), rise r·(1 − cos(a/2))). A triangle adds the rise over its
    edges, which covers surfaces curved both ways. Only flat places with bends to two sides or more count, so a
    single fold of a plate does not. Fewer than ten facets round a circle, and bends in a true polygon of
    more than nine sides, are judged wrongly: only the builder knows. 0 where nothing looks round.
    """
    bends = bends_of(mesh)
    if not len(bends.angle):
        return 0.0
    rise = np.tile(bends.widths.min(axis=1) / 2 * np.tan(bends.angle / 4), 2)
    worst = float(np.bincount(bends.facets.T.ravel(), rise).max())
    return worst if worst >= _LEAST else 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Bends:
    """The edges along which facets stand for a round surface.

    ``facets`` (k, 2) on either side, ``angle`` (k,) rad between them, ``widths`` (k, 2) mm of each, square to the edge.
    """

    facets: Indices
    angle: Floats
    widths: Floats


def bends_of(mesh: Mesh) -> Bends:
    """Edges bent by less than 40° at flat places that bend to two sides or more; others are taken for real edges."""
    corners = mesh.vertices[mesh.faces]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    doubled_area = np.linalg.norm(normals, axis=1)
    normals /= np.where(doubled_area > 0, doubled_area, 1)[:, None]
    halves = edges_of(mesh.faces).pairs
    one, other = halves.T // 3
    sine = np.linalg.norm(np.cross(normals[one], normals[other]), axis=1)
    angle = np.arctan2(sine, np.einsum("ij,ij->i", normals[one], normals[other]))
    bent = (angle >= _FLAT) & (angle < _SHARPEST)
    bent[bent] = _in_a_curve(len(mesh.faces), np.stack([one, other], axis=1), angle < _FLAT, bent)
    facets, half = halves[bent] // 3, halves[bent, 0]
    length = np.linalg.norm(corners[half // 3, half % 3] - corners[half // 3, (half % 3 + 1) % 3], axis=1)
    return Bends(facets, angle[bent], doubled_area[facets] / length[:, None])


def _in_a_curve(count: int, pairs: Indices, flat: NDArray[np.bool_], bent: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Which of the ``bent`` pairs of facets touch a flat place that bends to two or more neighbours."""
    place, neighbour = labels_of(count, pairs[flat])[pairs[bent]].T
    lowest, highest = np.full(count, count), np.full(count, -1)
    for here, there in ((place, neighbour), (neighbour, place)):
        np.minimum.at(lowest, here, there)
        np.maximum.at(highest, here, there)
    curved = highest > lowest
    return np.asarray(curved[place] | curved[neighbour])
