"""The closed surface on which a function of a lattice's nodes takes one value, by tetrahedra."""

from __future__ import annotations

from itertools import permutations

import numpy as np

from assembly.geometry.mesh import Flags, Floats, Ids, Mesh

CLEAR_OF_NODES = 0.01
"""Share of an edge by which the surface keeps off its ends, so that no facet is without width."""
_EVEN = ((0, 1, 2), (1, 2, 0), (2, 0, 1))
_CORNERS = np.array([[k & 1, k >> 1 & 1, k >> 2 & 1] for k in range(8)])


def _tetrahedra() -> Ids:
    """The six tetrahedra (6, 4) of a cube's corners that share its diagonal, each right-handed (Freudenthal 1942)."""
    made = []
    for order in permutations(range(3)):
        path = [0, 1 << order[0], (1 << order[0]) + (1 << order[1]), 7]
        made.append(path if order in _EVEN else [path[0], path[2], path[1], path[3]])
    return np.array(made, dtype=np.intp)


_TETRAHEDRA = _tetrahedra()


def _orders() -> Ids:
    """For each set of corners inside (16, 4): an even order of the corners with those first."""
    even = [p for p in permutations(range(4)) if sum(p[i] > p[j] for i in range(4) for j in range(i, 4)) % 2 == 0]
    inside = [[bool(mask >> k & 1) for k in range(4)] for mask in range(16)]
    return np.array([next(p for p in even if sorted(own, reverse=True) == [own[k] for k in p]) for own in inside])


_ORDERS = _orders()
_FACETS: dict[int, tuple[tuple[tuple[int, int], ...], ...]] = {
    1: (((0, 1), (0, 2), (0, 3)),),
    2: (((0, 2), (0, 3), (1, 3)), ((0, 2), (1, 3), (1, 2))),
    3: (((3, 0), (3, 1), (3, 2)),),
}
"""By the number of corners inside: facets whose corners lie on edges between two corners, outwards."""


def isosurface(values: Floats, level: float, origin: Floats, step: float) -> Mesh:
    """The surface round all places at which the interpolated ``values`` (i, j, k) are at most ``level``; outwards.

    Node (0, 0, 0) stands at ``origin`` (3,) mm, neighbours are ``step`` mm apart. All nodes on the lattice's border
    must be above the level. Values are interpolated linearly over the tetrahedra.
    """
    inside = values <= level
    tetrahedra = _crossed(inside)
    flat, low = values.reshape(-1), inside.reshape(-1)
    mask = (low[tetrahedra] * (1, 2, 4, 8)).sum(axis=1)
    ordered = np.take_along_axis(tetrahedra, _ORDERS[mask], axis=1)
    count = low[tetrahedra].sum(axis=1)
    facets = [
        ordered[count == number][:, np.array(facet)] for number, own in _FACETS.items() for facet in own
    ]  # (n, 3 corners, 2 ends)
    ends = np.sort(np.concatenate(facets), axis=2).reshape(-1, 2)
    keys, corners = np.unique(ends[:, 0] * flat.size + ends[:, 1], return_inverse=True)
    first, second = keys // flat.size, keys % flat.size
    share = (level - flat[first]) / (flat[second] - flat[first])
    share = np.clip(share, CLEAR_OF_NODES, 1 - CLEAR_OF_NODES)[:, None]
    places = [np.column_stack(np.unravel_index(nodes, values.shape)) for nodes in (first, second)]
    vertices = origin + step * (places[0] + share * (places[1] - places[0]))
    return Mesh(vertices, corners.reshape(-1, 3))


def _crossed(inside: Flags) -> Ids:
    """The corners (n, 4), as numbers of nodes, of all tetrahedra with nodes on both sides."""
    shape = inside.shape
    some = np.zeros([n - 1 for n in shape], dtype=np.int8)
    for i, j, k in _CORNERS:
        some += inside[i : shape[0] - 1 + i, j : shape[1] - 1 + j, k : shape[2] - 1 + k]
    cubes = np.argwhere((some > 0) & (some < len(_CORNERS)))
    nodes = (cubes[:, None] + _CORNERS).reshape(-1, 3)
    numbers = np.ravel_multi_index(tuple(nodes.T), shape).reshape(-1, len(_CORNERS))
    made = numbers[:, _TETRAHEDRA].reshape(-1, 4)
    own = inside.reshape(-1)[made].sum(axis=1)
    return np.asarray(made[(own > 0) & (own < 4)], dtype=np.intp)
