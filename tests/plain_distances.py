"""Distances of points to triangles, every triangle looked at; shares no code with the package."""

import numpy as np


def to_triangles(points, mesh):
    """Distance of each point to the nearest of all triangles; only those whose ball is near enough are looked at."""
    corners = mesh.vertices[mesh.faces]
    centres = corners.mean(axis=1)
    radii = np.linalg.norm(corners - centres[:, None], axis=2).max(axis=1)
    best = np.empty(len(points))
    for i, point in enumerate(points):
        away = np.linalg.norm(centres - point, axis=1)
        best[i] = to_each_triangle(point, corners[away - radii <= (away + radii).min()]).min()
    return best


def to_each_triangle(point, corners):
    """Plane where the foot of the point falls inside the triangle, else the nearest edge."""
    a, b, c = corners.transpose(1, 0, 2)
    normal = np.cross(b - a, c - a)
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    inside = np.ones(len(a), dtype=bool)
    found = np.full(len(a), np.inf)
    for start, end in ((a, b), (b, c), (c, a)):
        edge, away = end - start, point - start
        inside &= np.einsum("ij,ij->i", np.cross(normal, edge), away) >= 0
        t = np.clip(np.einsum("ij,ij->i", away, edge) / np.einsum("ij,ij->i", edge, edge), 0, 1)
        found = np.minimum(found, np.linalg.norm(away - t[:, None] * edge, axis=1))
    return np.where(inside, np.abs(np.einsum("ij,ij->i", point - a, normal)), found)
