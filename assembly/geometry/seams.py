"""Which corners of facets are one vertex: merging equal ones, closing rounding seams, parting bodies that touch."""

from __future__ import annotations

import numpy as np

from assembly.geometry.mesh import Floats, Indices
from assembly.geometry.rotations import across, unit
from assembly.geometry.shells import EdgeTable, edges_of, labels_of

SILENT = 1e-6
"""Vertices this near, in mm, are one: finer than any file format or workshop means."""
_ROUNDING = 2.0**-22
"""Two steps of single precision relative to the largest coordinate, as programs leave between twin vertices."""


def merged(vertices: Floats, faces: Indices) -> tuple[Floats, Indices]:
    """The same facets with equal vertices made one and unused ones dropped; vertices come out in sorted order."""
    vertices, faces = used_only(vertices, faces)
    order = np.lexsort(vertices.T)
    ranked = vertices[order]
    new = np.concatenate([[True], np.any(ranked[1:] != ranked[:-1], axis=1)])
    number = np.empty(len(vertices), dtype=np.int64)
    number[order] = np.cumsum(new) - 1
    return ranked[new], number[faces]


def used_only(vertices: Floats, faces: Indices) -> tuple[Floats, Indices]:
    """The same facets over the vertices that they use."""
    used = np.zeros(len(vertices), dtype=np.bool_)
    used[faces] = True
    if used.all():
        return vertices, faces
    return vertices[used], (np.cumsum(used) - 1)[faces]


def seams_joined(vertices: Floats, faces: Indices, edges: EdgeTable) -> tuple[Floats, Indices, float]:
    """Twin vertices along open edges made one: vertices, the number (n,) each now has, the shift in mm to be said.

    Only vertices on open edges are touched, and only within the rounding of single-precision files;
    facets may be left with a corner twice.
    """
    from scipy.spatial import KDTree

    halves = edges.open_halves
    rim = np.unique([faces[halves // 3, halves % 3], faces[halves // 3, (halves + 1) % 3]])
    reach = max(SILENT, _ROUNDING * float(np.abs(vertices).max()))
    twins = KDTree(vertices[rim]).query_pairs(reach, output_type="ndarray")
    number = np.arange(len(vertices))
    if not len(twins):
        return vertices, number, 0.0
    _, first, group = np.unique(labels_of(len(rim), twins), return_index=True, return_inverse=True)
    number[rim] = rim[first[group]]
    shift = float(np.linalg.norm(vertices[number] - vertices, axis=1).max())
    return vertices, number, shift if shift > SILENT else 0.0


def touching_parted(vertices: Floats, faces: Indices, edges: EdgeTable) -> tuple[Floats, Indices]:
    """The facets with own vertices on either side of edges where a surface touches itself or another.

    Such an edge has as many half-edges one way as the other; going round it, each facet is paired with the
    one it has solid between, and corners that no chain of paired facets links become separate vertices.
    """
    if not len(edges.crowded):
        return vertices, faces
    pairs = np.concatenate([edges.pairs, *(_paired_round(vertices, faces, edges, edge) for edge in edges.crowded)])
    one, other = pairs.T
    after_one, after_other = (half - half % 3 + (half % 3 + 1) % 3 for half in (one, other))
    links = np.concatenate([np.stack([one, after_other], axis=1), np.stack([after_one, other], axis=1)])
    label = labels_of(faces.size, links)
    _, first, number = np.unique(label, return_index=True, return_inverse=True)
    return _doubled_edges_split(vertices[faces.ravel()[first]], number.reshape(-1, 3))


def _doubled_edges_split(vertices: Floats, faces: Indices) -> tuple[Floats, Indices]:
    """The facets with middle vertices of their own on edges that still join the same two vertices as another edge.

    manifold3d 3.5 pairs the facets of such edges otherwise and changes the volume, with status NoError.
    """
    edges = edges_of(faces)
    middles: list[Floats] = []
    pieces: dict[int, list[tuple[int, int, int]]] = {}
    for edge in edges.crowded:
        for pair in _paired_round(vertices, faces, edges, edge)[1:]:
            for half in pair.tolist():
                facet, corner = half // 3, half % 3
                start, end = int(faces[facet, corner]), int(faces[facet, (corner + 1) % 3])
                whole = pieces.get(facet) or [(int(faces[facet, 0]), int(faces[facet, 1]), int(faces[facet, 2]))]
                number = len(vertices) + len(middles)
                pieces[facet] = [piece for each in whole for piece in _halved(each, start, end, number)]
            middles.append(vertices[[start, end]].mean(axis=0))
    if not pieces:
        return vertices, faces
    halved = np.array([piece for whole in pieces.values() for piece in whole])
    return np.concatenate([vertices, middles]), np.concatenate([np.delete(faces, list(pieces), axis=0), halved])


def _halved(triangle: tuple[int, int, int], start: int, end: int, middle: int) -> list[tuple[int, int, int]]:
    """``triangle`` cut at the ``middle`` of its side from ``start`` to ``end``; whole where it has no such side."""
    for k in range(3):
        if (triangle[k], triangle[(k + 1) % 3]) == (start, end):
            return [(start, middle, triangle[k - 1]), (middle, end, triangle[k - 1])]
    return [triangle]


def _paired_round(vertices: Floats, faces: Indices, edges: EdgeTable, edge: int) -> Indices:
    """Pairs (p, 2) of the half-edges of one crowded edge: a facet where solid begins with the one where it ends.

    Going round the edge right-handed about its forward direction, solid begins at a backward half-edge.
    """
    halves = edges.order[edges.first[edge] : edges.first[edge] + edges.uses[edge]]
    face, corner = halves // 3, halves % 3
    low, high = np.sort([faces[face[0], corner[0]], faces[face[0], (corner[0] + 1) % 3]])
    first, second = across(unit(vertices[high] - vertices[low]))
    tips = vertices[faces[face, (corner + 2) % 3]] - vertices[low]
    round_it = halves[np.argsort(np.arctan2(tips @ second, tips @ first), kind="stable")]
    begun: list[int] = []
    ended: list[int] = []
    pairs = []
    for half in round_it:
        if not edges.forward[half]:
            begun.append(half)
        elif begun:
            pairs.append((begun.pop(), half))
        else:
            ended.append(half)
    pairs += zip(reversed(begun), ended, strict=True)
    return np.array(pairs, dtype=np.int64).reshape(-1, 2)
