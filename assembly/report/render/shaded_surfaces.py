"""Triangles made ready to be looked at: one direction per corner for the shading, and the edges worth a line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats, Indices, Mesh
from assembly.report.render.palette import Paint

CREASE_DEGREES = 30.1
"""Two faces that meet at more than this angle meet in an edge; below it the surface is drawn round (a twelve-sided
rod too, whose faces meet at 30°)."""
_SAME_MM = 1e-5


@dataclass(frozen=True, eq=False)
class Surfaces:
    """The solids of one layer of the picture.

    ``triangles`` (n, 3, 3) mm; ``normals`` (n, 3, 3) unit vectors, one per corner; ``owner`` (n,)
    index into ``paints``; ``edges`` (k, 2, 3) mm with ``edge_owner`` (k,).
    """

    triangles: Floats
    normals: Floats
    owner: Indices
    edges: Floats
    edge_owner: Indices
    paints: tuple[Paint, ...]

    def __bool__(self) -> bool:
        return len(self.triangles) > 0

    def moved(self, rotations: Floats, shifts: Floats) -> Surfaces:
        """The layer with solid k turned about the origin by ``rotations`` (k, 3, 3), then gone by ``shifts`` (k, 3)."""
        turns = rotations.swapaxes(-1, -2)
        normals = self.normals @ turns[self.owner]
        triangles = self.triangles @ turns[self.owner] + shifts[self.owner, None]
        edges = self.edges @ turns[self.edge_owner] + shifts[self.edge_owner, None]
        return replace(self, triangles=triangles, normals=normals, edges=edges)


def surfaces(solids: Sequence[tuple[Mesh, Paint]]) -> Surfaces:
    """One layer of all ``solids``; triangles without area are left out."""
    triangles, normals, owner = [np.empty((0, 3, 3))], [np.empty((0, 3, 3))], [np.empty(0, dtype=np.int64)]
    edges, edge_owner = [np.empty((0, 2, 3))], [np.empty(0, dtype=np.int64)]
    for index, (mesh, _) in enumerate(solids):
        corners, directions, creases = _shaded(mesh)
        triangles.append(corners)
        normals.append(directions)
        owner.append(np.full(len(corners), index))
        edges.append(creases)
        edge_owner.append(np.full(len(creases), index))
    return Surfaces(
        np.concatenate(triangles),
        np.concatenate(normals),
        np.concatenate(owner),
        np.concatenate(edges),
        np.concatenate(edge_owner),
        tuple(paint for _, paint in solids),
    )


def _shaded(mesh: Mesh) -> tuple[Floats, Floats, Floats]:
    """Triangles (n, 3, 3), corner normals (n, 3, 3) and edges (k, 2, 3) of one solid."""
    points, faces = _merged(mesh)
    corners = points[faces]
    weighted = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = np.linalg.norm(weighted, axis=1)
    kept = area > 0
    faces, corners, weighted = faces[kept], corners[kept], weighted[kept]
    facing = weighted / area[kept, None]
    starts, ends, left, right = _meetings(faces)
    smooth = _smooth(facing, left, right)
    normals = _rounded(faces, weighted, facing, left[smooth], right[smooth], starts[smooth], ends[smooth])
    edges = np.stack([points[starts[~smooth]], points[ends[~smooth]]], axis=1)
    return corners, normals, edges


@dataclass(frozen=True, eq=False)
class Creased:
    """One solid with its edges: ``points`` (n, 3) mm, ``faces`` (m, 3) and ``edges`` (k, 2) index into them."""

    points: Floats
    faces: Indices
    edges: Indices


def creased(mesh: Mesh) -> Creased:
    """The solid with equal corners named once, triangles without area left out, and the edges worth a line."""
    points, faces = _merged(mesh)
    corners = points[faces]
    weighted = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = np.linalg.norm(weighted, axis=1)
    faces, facing = faces[area > 0], weighted[area > 0] / area[area > 0, None]
    starts, ends, left, right = _meetings(faces)
    smooth = _smooth(facing, left, right)
    return Creased(points, faces, np.stack([starts[~smooth], ends[~smooth]], axis=1))


def _smooth(facing: Floats, left: Indices, right: Indices) -> NDArray[np.bool_]:
    """Whether the two faces at an edge meet so flat that it is no edge."""
    flat = np.einsum("ij,ij->i", facing[left], facing[right]) > np.cos(np.deg2rad(CREASE_DEGREES))
    return np.asarray((right >= 0) & flat)


def _merged(mesh: Mesh) -> tuple[Floats, Indices]:
    """Vertices and faces with equal corners named once, faces with a repeated corner left out."""
    if not len(mesh.faces):
        return np.empty((0, 3)), np.empty((0, 3), dtype=np.int64)
    cells = np.round(mesh.vertices / _SAME_MM).astype(np.int64)
    _, chosen, renamed = np.unique(cells, axis=0, return_index=True, return_inverse=True)
    faces = renamed.reshape(-1)[mesh.faces]
    whole = (faces != np.roll(faces, 1, axis=1)).all(axis=1)
    return mesh.vertices[chosen], faces[whole]


def _meetings(faces: Indices) -> tuple[Indices, Indices, Indices, Indices]:
    """Each edge once: its two vertices and the two faces that meet there; the second is -1 unless exactly two meet."""
    pairs = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    keys = pairs[:, 0] * (int(faces.max(initial=0)) + 1) + pairs[:, 1]
    order = np.argsort(keys, kind="stable")
    _, first, count = np.unique(keys[order], return_index=True, return_counts=True)
    left = order[first]
    right = np.where(count == 2, order[np.minimum(first + 1, len(order) - 1)] % max(len(faces), 1), -1)
    return pairs[left, 0], pairs[left, 1], left % max(len(faces), 1), right


def _rounded(
    faces: Indices, weighted: Floats, facing: Floats, left: Indices, right: Indices, starts: Indices, ends: Indices
) -> Floats:
    """Corner normals (n, 3, 3): the mean over the faces that join round the corner without a crease."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    def corner(face: Indices, vertex: Indices) -> Indices:
        return np.asarray(face * 3 + np.argmax(faces[face] == vertex[:, None], axis=1))

    one = np.concatenate([corner(left, starts), corner(left, ends)])
    other = np.concatenate([corner(right, starts), corner(right, ends)])
    total = 3 * len(faces)
    links = coo_array((np.ones(len(one), dtype=bool), (one, other)), shape=(total, total))
    groups, group = connected_components(links, directed=False)
    spread = np.repeat(weighted, 3, axis=0)
    summed = np.stack([np.bincount(group, weights=spread[:, k], minlength=groups) for k in range(3)], axis=1)
    length = np.linalg.norm(summed, axis=1, keepdims=True)
    mean = (summed / np.where(length > 0, length, 1.0))[group].reshape(-1, 3, 3)
    return np.where((length > 0)[group].reshape(-1, 3, 1), mean, facing[:, None, :])
