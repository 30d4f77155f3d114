"""Vertices and triangles of plain solids, made by hand for the tests: outward and closed."""

import numpy as np

from assembly.geometry.solids import union

_SIDES = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
BOX_FACES = np.array([facet for a, b, c, d in _SIDES for facet in ((a, b, c), (a, c, d))])


def box(size, centre=(0, 0, 0)):
    """Eight vertices and twelve triangles; vertex k is low or high in x, y, z by bits 2, 1, 0 of k."""
    corners = np.array([[k >> 2 & 1, k >> 1 & 1, k & 1] for k in range(8)]) - 0.5
    return corners * np.asarray(size, dtype=float) + centre, BOX_FACES.copy()


def cube(edge, centre=(0, 0, 0)):
    return box((edge, edge, edge), centre)


def prism(outline, length):
    """A plane outline (n, 2), anticlockwise and star-shaped about the origin, drawn out from z = 0 to ``length``."""
    outline = np.asarray(outline, dtype=float)
    n = len(outline)
    ends = [np.column_stack([outline, np.full(n, z)]) for z in (0.0, length)]
    middles = np.array([[0, 0, 0], [0, 0, length]], dtype=float)
    faces = []
    for i in range(n):
        j = (i + 1) % n
        faces += [(2 * n, j, i), (2 * n + 1, n + i, n + j), (i, j, n + j), (i, n + j, n + i)]
    return np.concatenate([*ends, middles]), np.array(faces)


def cylinder(radius, length, sides):
    turn = 2 * np.pi * np.arange(sides) / sides
    return prism(np.column_stack([radius * np.cos(turn), radius * np.sin(turn)]), length)


def ball(radius, splits, centre=(0, 0, 0)):
    """An octahedron whose triangles are split in four ``splits`` times, vertices on the sphere: 8·4^splits facets."""
    vertices = np.array([(1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)], dtype=float)
    faces = np.array(
        [(0, 2, 4), (2, 1, 4), (1, 3, 4), (3, 0, 4), (2, 0, 5), (1, 2, 5), (3, 1, 5), (0, 3, 5)], dtype=np.int64
    )
    for _ in range(splits):
        sides = np.sort(faces[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
        ends, number = np.unique(sides, axis=0, return_inverse=True)
        m = number.reshape(-1, 3) + len(vertices)
        vertices = np.concatenate([vertices, vertices[ends].sum(axis=1)])
        a, b, c = faces.T
        faces = np.concatenate(
            [np.column_stack(t) for t in ((a, m[:, 0], m[:, 2]), (b, m[:, 1], m[:, 0]), (c, m[:, 2], m[:, 1]))] + [m]
        )
        vertices /= np.linalg.norm(vertices, axis=1, keepdims=True)
    return vertices * radius + centre, faces


def together(*solids):
    """All triangles of several (vertices, faces) in one list, nothing merged."""
    vertices, faces, offset = [], [], 0
    for points, corners in solids:
        vertices.append(points)
        faces.append(corners + offset)
        offset += len(points)
    return np.concatenate(vertices), np.concatenate(faces)


def inward(solid):
    return solid[0], solid[1][:, ::-1]


def signed_volume(solid):
    """Sum of the tetrahedra from the origin to each triangle (divergence theorem)."""
    a, b, c = (np.asarray(solid[0])[np.asarray(solid[1])[:, k]] for k in range(3))
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)


def volume(mesh):
    """Volume in mm³ that a ``Mesh`` fills, each place counted once even where its shells run into each other."""
    return union([mesh]).volume


def edge_uses(faces):
    """How often each undirected edge is used, as a plain dictionary."""
    uses = {}
    for triangle in np.asarray(faces).tolist():
        for k in range(3):
            edge = frozenset((triangle[k], triangle[(k + 1) % 3]))
            uses[edge] = uses.get(edge, 0) + 1
    return uses
