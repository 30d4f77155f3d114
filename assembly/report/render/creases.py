"""Meshes made ready to be looked at: equal corners named once, the edges worth a line, directions for the shading."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from assembly.geometry.mesh import Floats, Indices, Mesh

CREASE_DEGREES = 30.1
"""Two faces that meet at more than this angle meet in an edge; below it the surface is drawn round (a twelve-sided
rod too, whose faces meet at 30°)."""
_SAME_MM = 1e-5


@dataclass(frozen=True, eq=False)
class Creased:
    """One solid with its edges: ``points`` (n, 3) mm, ``faces`` (m, 3) and ``edges`` (k, 2) index into them."""

    points: Floats
    faces: Indices
    edges: Indices


def creased(mesh: Mesh) -> Creased:
    """The solid with its creases and open borders as edges."""
    solid = polydata(mesh)
    if not solid.n_cells:
        return Creased(np.empty((0, 3)), np.empty((0, 3), dtype=np.int64), np.empty((0, 2), dtype=np.int64))
    solid.point_data["corner"] = np.arange(solid.n_points)
    lines = solid.extract_feature_edges(CREASE_DEGREES, manifold_edges=False)
    ends = lines.point_data["corner"][lines.lines.reshape(-1, 3)[:, 1:]] if lines.n_cells else np.empty((0, 2))
    return Creased(np.array(solid.points), np.array(solid.regular_faces), np.array(ends, dtype=np.int64))


def rounded(solid: Any) -> Any:
    """A ``polydata`` solid with a unit normal at each corner, its corners split where faces meet in a crease."""
    return solid.compute_normals(
        cell_normals=False,
        split_vertices=True,
        feature_angle=CREASE_DEGREES,
        consistent_normals=False,
        non_manifold_traversal=False,
    )


def polydata(mesh: Mesh) -> Any:
    """The mesh as VTK's PolyData, equal corners named once, triangles without area left out."""
    import pyvista

    if not len(mesh.faces):
        return pyvista.PolyData()
    made: Any = pyvista.PolyData.from_regular_faces
    solid = made(np.asarray(mesh.vertices, dtype=np.float64), mesh.faces).clean(tolerance=_SAME_MM, absolute=True)
    faces = solid.faces.reshape(-1, 4)[:, 1:]
    corners = solid.points[faces]
    area = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1)
    return made(solid.points, faces[area > 0])
