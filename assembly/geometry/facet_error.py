"""How far the facets of a mesh from a file may lie from the round surface they stand for: an estimate."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats, Indices, Mesh
from assembly.geometry.rotations import cross
from assembly.geometry.shells import edges_of, labels_of

_SHARPEST = np.deg2rad(40)
"""Facets that meet at more than this are taken for a real edge, unless they form an even ring."""
_FLAT = np.deg2rad(0.05)
_LEAST = 1e-4
_FEWEST_SIDES = np.deg2rad(75)
"""Even rings of five sides or more, which meet at up to 72 degrees, may be a round that is drawn coarsely."""
_EVEN = 0.02
"""Share by which the widths of an even ring's facets may differ."""


@dataclass(frozen=True, slots=True)
class FacetEstimate:
    """Largest distance in mm between the facets of a mesh and a smooth surface through its vertices."""

    fine: float
    """As far as facets that bend by less than 40° show; 0 if nothing looks round."""
    coarse: float
    """Of even rings of five to eight facets alone, which as likely are true polygons."""

    @property
    def largest(self) -> float:
        """The larger of the two: an even ring is taken for a round, which is never too small."""
        return max(self.fine, self.coarse)


def estimated_surface_error(mesh: Mesh) -> FacetEstimate:
    """How far the facets of ``mesh`` lie from the round surface they stand for, as far as they show.

    Where two facets of width w meet at an angle a, the circle through their corners rises w/2·tan(a/4)
    above them (closed form: width 2r·sin(a/2), rise r·(1 − cos(a/2))). A triangle adds the rise over its
    edges, which covers surfaces curved both ways. Only flat places with bends to two sides or more count, so a
    single fold of a plate does not. Whether an even ring of five facets or more is a round or a true polygon only the
    builder knows.
    """
    hinges = _hinges(mesh)
    fine, coarse = _bends(hinges, _FLAT, _SHARPEST, even=False), _bends(hinges, _SHARPEST, _FEWEST_SIDES, even=True)
    return FacetEstimate(_worst_rise(mesh, fine), _worst_rise(mesh, coarse))


def _worst_rise(mesh: Mesh, bends: Bends) -> float:
    if not len(bends.angle):
        return 0.0
    rise = np.tile(bends.widths.min(axis=1) / 2 * np.tan(bends.angle / 4), 2)
    worst = float(np.bincount(bends.facets.T.ravel(), rise, len(mesh.faces)).max())
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
    return _bends(_hinges(mesh), _FLAT, _SHARPEST, even=False)


@dataclass(frozen=True, slots=True, eq=False)
class _Hinges:
    """All edges that two facets share, as ``Bends`` has them, of a mesh of ``count`` facets."""

    count: int
    every: Bends


def _hinges(mesh: Mesh) -> _Hinges:
    corners = mesh.vertices[mesh.faces]
    normals = cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    doubled_area = np.linalg.norm(normals, axis=1)
    normals /= np.where(doubled_area > 0, doubled_area, 1)[:, None]
    halves = edges_of(mesh.faces).pairs
    one, other = halves.T // 3
    sine = np.linalg.norm(cross(normals[one], normals[other]), axis=1)
    angle = np.arctan2(sine, np.einsum("ij,ij->i", normals[one], normals[other]))
    half = halves[:, 0]
    length = np.linalg.norm(corners[half // 3, half % 3] - corners[half // 3, (half % 3 + 1) % 3], axis=1)
    widths = doubled_area[halves // 3] / np.where(length > 0, length, 1)[:, None]
    return _Hinges(len(mesh.faces), Bends(halves // 3, angle, widths))


def _bends(hinges: _Hinges, least: float, most: float, *, even: bool) -> Bends:
    """Edges bent by ``least`` to ``most`` rad at flat places that so bend to two sides or more.

    ``even``: of those between facets of one width only.
    """
    every = hinges.every
    bent = (every.angle >= least) & (every.angle < most)
    if even:
        bent &= np.abs(every.widths[:, 0] - every.widths[:, 1]) <= _EVEN * every.widths.max(axis=1)
    if bent.any():
        bent[bent] = _in_a_curve(hinges.count, every.facets, every.angle < _FLAT, bent)
    return Bends(every.facets[bent], every.angle[bent], every.widths[bent])


def _in_a_curve(count: int, pairs: Indices, flat: NDArray[np.bool_], bent: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Which of the ``bent`` pairs of facets touch a flat place that bends to two or more neighbours."""
    place, neighbour = labels_of(count, pairs[flat])[pairs[bent]].T
    lowest, highest = np.full(count, count), np.full(count, -1)
    for here, there in ((place, neighbour), (neighbour, place)):
        np.minimum.at(lowest, here, there)
        np.maximum.at(highest, here, there)
    curved = highest > lowest
    return np.asarray(curved[place] | curved[neighbour])
