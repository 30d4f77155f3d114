"""How the facets of a mesh hang together: edges, which facets share them, and the shells they form."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Indices, Mesh


@dataclass(frozen=True, eq=False)
class EdgeTable:
    """The undirected edges of a mesh.

    Half-edge ``h`` belongs to facet ``h // 3`` and runs from its corner ``h % 3`` to the next one.
    ``order`` (3m,) lists the half-edges, those of one edge in a row; edge k begins at ``first[k]`` and
    has ``uses[k]`` of them. ``forward`` (3m,) tells which half-edges run to the higher vertex number.
    """

    order: Indices
    first: Indices
    uses: Indices
    forward: NDArray[np.bool_]

    @property
    def pairs(self) -> Indices:
        """(p, 2) half-edges of the edges that exactly two facets share."""
        start = self.first[self.uses == 2]
        return np.stack([self.order[start], self.order[start + 1]], axis=1)

    @property
    def open_halves(self) -> Indices:
        """(o,) half-edges of the edges that a single facet has to itself."""
        halves: Indices = self.order[self.first[self.uses == 1]]
        return halves

    @property
    def crowded(self) -> Indices:
        """(c,) numbers of the edges that three or more facets share."""
        return np.flatnonzero(self.uses > 2)

    @property
    def balance(self) -> Indices:
        """(edges,) half-edges that run one way minus those that run the other: all zero where facets agree."""
        way = np.where(self.forward[self.order], 1, -1)
        sums: Indices = np.add.reduceat(way, self.first) if len(self.first) else way
        return sums


def edges_of(faces: Indices) -> EdgeTable:
    """The edges of ``faces`` (m, 3)."""
    start = faces.ravel()
    end = faces[:, [1, 2, 0]].ravel()
    key = np.minimum(start, end) * (int(faces.max(initial=0)) + 1) + np.maximum(start, end)
    order = np.argsort(key, kind="stable")
    key = key[order]
    first = np.flatnonzero(np.concatenate([np.ones(min(1, len(key)), dtype=np.bool_), key[1:] != key[:-1]]))
    return EdgeTable(order, first, np.diff(first, append=len(key)), start < end)


def labels_of(count: int, links: Indices) -> Indices:
    """Number (count,) of the connected group that each of ``count`` items is in, linked by ``links`` (k, 2)."""
    from scipy.sparse import coo_array  # takes longer to load than a file with faults takes to read
    from scipy.sparse.csgraph import connected_components

    graph = coo_array((np.ones(len(links), dtype=np.int8), (links[:, 0], links[:, 1])), shape=(count, count))
    return np.asarray(connected_components(graph, directed=False)[1], dtype=np.int64)


def components(mesh: Mesh) -> list[Mesh]:
    """The connected shells of ``mesh``, each with vertices of its own, in the order of their first facets.

    Facets hang together where exactly two of them share an edge, so bodies that merely touch along an
    edge or at a vertex come apart.
    """
    label = labels_of(len(mesh.faces), edges_of(mesh.faces).pairs // 3)
    if label.max(initial=0) == 0:
        return [mesh] if len(mesh.faces) else []
    order = np.argsort(label, kind="stable")
    shells = []
    for group in np.split(order, np.flatnonzero(np.diff(label[order])) + 1):
        used, corners = np.unique(mesh.faces[group], return_inverse=True)
        shells.append(Mesh(mesh.vertices[used], corners.reshape(-1, 3), mesh.surface_error))
    return shells
