"""Each place at which something goes from a shape: how deep, how large, where, and what is left behind it.

The depth at a point of the old surface is how far what goes reaches inwards there, square to it. A cut round an edge
meets several faces; it is told from the one of which most goes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from assembly.clearance.removal.covering_balls import bisected
from assembly.clearance.removal.removed import ShapeRemoval
from assembly.geometry.mesh import Flags, Floats, Ids, Mesh
from assembly.geometry.rays import first_exits
from assembly.geometry.shells import labels_of

FINEST = 0.8
"""mm between points at which depths are measured, or wider where there would be too many."""
MOST_POINTS = 1500
SMOOTH = 0.85
"""Cosine of the angle up to which neighbouring facets are one face."""
WALL_POINTS = 500
CUT_POINTS = 1.5
"""Points from which it is measured what stays, and mm that they may be apart."""
RIM = 1.5
"""mm from the old surface within which it is not, or a third of the depth."""
ALIKE = 0.05
"""mm: depths that differ by less are as deep."""
LEAST = 1e-3
"""mm³: what is less is rounding."""


@dataclass(frozen=True, slots=True, eq=False)
class RemovalPlace:
    """One lump that goes from a ``shape``.

    ``depth`` mm: the greatest, at ``at`` (3,) mm, as drawn, on a face that looks along ``outwards`` (3,); ``size`` mm:
    length and width of the patch of that face. ``wall`` mm: the least that stays behind the cut, square to it; None
    where it never meets a far side. ``through``: the whole thickness goes at the deepest point.
    """

    shape: str
    depth: float
    at: Floats
    outwards: Floats
    size: tuple[float, float]
    wall: float | None
    through: bool
    volume: float


@dataclass(frozen=True, slots=True, eq=False)
class DepthMap:
    """Triangles (n, 3, 3) mm of the old surface that goes, and how deep (n,) mm it goes at the middle of each.

    On faces from which the depth of a place is not told it is how far the cut is.
    """

    triangles: Floats
    depths: Floats


@dataclass(frozen=True, slots=True, eq=False)
class _Face:
    """A smooth patch: its points (k, 3), normals, weights (k,) mm², depths, and whether each goes right through."""

    triangles: Floats
    normals: Floats
    depths: Floats
    through: Flags

    @property
    def middles(self) -> Floats:
        return np.asarray(self.triangles.mean(axis=1))

    @property
    def deepest(self) -> int:
        """The deepest point; of those as deep, the one next to the middle."""
        away = np.linalg.norm(self.middles - self.middles.mean(axis=0), axis=1)
        return int(np.where(self.depths >= self.depths.max() - ALIKE, away, np.inf).argmin())


def removal_places(removal: ShapeRemoval) -> tuple[tuple[RemovalPlace, ...], DepthMap]:
    """Every place of a removal, the deepest first, and the depths over all of its patches."""
    gone, old = removal.gone, removal.old
    lumps = labels_of(len(gone.vertices), np.concatenate([gone.faces[:, :2], gone.faces[:, 1:]]))
    places: list[RemovalPlace] = []
    maps: list[tuple[Floats, Floats]] = []
    for lump in np.unique(lumps):
        own = lumps[gone.faces[:, 0]] == lump
        mesh = Mesh(gone.vertices, gone.faces[own])
        if mesh.volume < LEAST:
            continue
        faces = _faces(mesh, old[own])
        if not faces:
            continue
        told = _told_from(faces)
        maps += [(face.triangles, face.depths if face is told else _near_cut(face, mesh, old[own])) for face in faces]
        places.append(_place(removal, mesh, old[own], told))
    triangles = np.concatenate([np.zeros((0, 3, 3)), *(own for own, _ in maps)])
    depths = np.concatenate([np.zeros(0), *(own for _, own in maps)])
    return tuple(sorted(places, key=lambda one: -one.depth)), DepthMap(triangles, depths)


def _told_from(faces: list[_Face]) -> _Face:
    """The face from which the depth is told: the one of which most goes."""
    return max(faces, key=lambda one: float(_normals(one.triangles)[1].sum()))


def _near_cut(face: _Face, mesh: Mesh, old: Flags) -> Floats:
    """How far (k,) mm the points of another face of a lump are from the cut."""
    cut = bisected(mesh.vertices[mesh.faces[~old]], CUT_POINTS)
    return np.asarray(cKDTree(cut.reshape(-1, 3)).query(face.middles)[0]) if len(cut) else face.depths


def _faces(mesh: Mesh, old: Flags) -> list[_Face]:
    """The smooth patches of the old surface of one lump, with depths measured over them."""
    corners = mesh.vertices[mesh.faces[old]]
    normals, areas = _normals(corners)
    wide = areas > 1e-9
    corners, normals, numbers = corners[wide], normals[wide], mesh.faces[old][wide]
    if not len(corners):
        return []
    labels = _smooth(numbers, normals)
    longest = max(FINEST, float(np.sqrt(4 * areas.sum() / MOST_POINTS)))
    faces = []
    for label in np.unique(labels):
        triangles = bisected(corners[labels == label], longest)
        own, _ = _normals(triangles)
        far, facet = first_exits(mesh, triangles.mean(axis=1), -own)
        met = facet >= 0
        if met.any():
            faces.append(_Face(triangles[met], own[met], far[met], old[facet[met]]))
    return faces


def _place(removal: ShapeRemoval, mesh: Mesh, old: Flags, face: _Face) -> RemovalPlace:
    deepest = face.deepest
    return RemovalPlace(
        shape=removal.shape,
        depth=float(face.depths.max()),
        at=face.middles[deepest],
        outwards=face.normals[deepest],
        size=_size(face),
        wall=_wall(removal.kept, mesh, old, min(RIM, float(face.depths.max()) / 3)),
        through=bool(face.through[face.depths >= face.depths.max() - ALIKE].any()),
        volume=mesh.volume,
    )


def _size(face: _Face) -> tuple[float, float]:
    """Length and width (mm) of a patch along its own main directions."""
    points = face.triangles.reshape(-1, 3)
    _, areas = _normals(face.triangles)
    middle = np.average(face.middles, axis=0, weights=areas)
    away = face.middles - middle
    _, axes = np.linalg.eigh(np.einsum("n,ni,nj->ij", areas, away, away))
    extents = np.sort(np.ptp((points - middle) @ axes, axis=0))
    return float(extents[2]), float(extents[1])


def _wall(kept: Mesh, mesh: Mesh, old: Flags, rim: float) -> float | None:
    """The least that stays behind the cut surface, square to it; None where there is nothing opposite.

    Within ``rim`` mm of the old surface the cut runs out into it, and nothing is told there.
    """
    surface = bisected(mesh.vertices[mesh.faces[old]], CUT_POINTS)
    cut = bisected(mesh.vertices[mesh.faces[~old]], CUT_POINTS)
    normals, areas = _normals(cut)
    middles = cut.mean(axis=1)
    away = cKDTree(surface.reshape(-1, 3)).query(middles)[0] if len(surface) else np.full(len(cut), np.inf)
    chosen = np.flatnonzero((areas > 1e-9) & (away >= rim))
    chosen = chosen[:: max(1, len(chosen) // WALL_POINTS)]
    far, _ = first_exits(kept, middles[chosen], normals[chosen], beyond=1e-3)
    return float(far.min()) if np.isfinite(far).any() else None


def _normals(corners: Floats) -> tuple[Floats, Floats]:
    """Unit normals (n, 3) of triangles (n, 3, 3) and their areas (n,)."""
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    twice = np.linalg.norm(across, axis=1)
    return across / np.maximum(twice, 1e-300)[:, None], twice / 2


def _smooth(faces: Ids, normals: Floats) -> Ids:
    """The number (n,) of the smooth face that each of ``faces`` (n, 3) belongs to."""
    ends = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    owner = np.tile(np.arange(len(faces)), 3)
    order = np.lexsort((ends[:, 1], ends[:, 0]))
    ends, owner = ends[order], owner[order]
    same = (ends[1:] == ends[:-1]).all(axis=1)
    first, second = owner[:-1][same], owner[1:][same]
    flat = np.einsum("ni,ni->n", normals[first], normals[second]) > SMOOTH
    return np.asarray(labels_of(len(faces), np.column_stack([first[flat], second[flat]])))
