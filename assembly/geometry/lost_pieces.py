"""Pieces of a cut solid that its facets lack, because they are thinner than the facets are true."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from assembly.errors import Fault, ShapeError
from assembly.geometry.facet_error import bends_of
from assembly.geometry.mesh import Floats, Mesh
from assembly.geometry.solids import difference

_ORDINARY = 1.25
"""Times the stated surface error that moved faces keep within; their mitres reach a little beyond the closed form."""
_BETWEEN = 2.0
"""The farthest point of a piece is taken for up to so much farther than the samples of its facets."""
WIDEST = 0.5
"""mm; a surface error is widened up to this on account of a piece that the facets lack."""
_BLOCK = 64
"""Points whose distances to all facets are taken at once, for the sake of memory."""
_BLUNTEST = 0.5
"""Least cosine of a mitre: a vertex moves by no more than twice its faces' way."""


def cut_soundly(mesh: Mesh, tools: Sequence[Mesh], widest: float = WIDEST) -> Mesh:
    """``difference(mesh, tools)``, whose facets then lack no piece of the true solid beyond its surface error.

    The cut is made once more with the round faces of ``mesh`` moved out and those of ``tools`` moved in by their own
    surface errors. The true solid lies within what is left then, so a piece that the facets lack is in it. Of that
    solid each facet's corners, centre and edge middles are taken. Where one is farther from the facets than the stated
    error, the error is widened to twice as far; ShapeError where that is more than ``widest`` mm.

    Source: own derivation. Plane faces are taken for true. Assumed: faces are wider than they move; between samples a
    piece is no more than twice as far as at them; at tips sharper than 60° ``cut_error`` alone holds.
    """
    cut = difference(mesh, tools)
    if cut.surface_error == 0 or not len(cut.faces):
        return cut
    most = difference(_moved(mesh, mesh.surface_error), [_moved(tool, -tool.surface_error) for tool in tools])
    point, far = _farthest(_samples(most), cut, _ORDINARY * cut.surface_error)
    if far == 0:
        return cut
    if _BETWEEN * far > widest:
        raise ShapeError(_fault(point, cut.surface_error))
    return replace(cut, surface_error=max(cut.surface_error, _BETWEEN * far))


def _fault(point: Floats, error: float) -> Fault:
    where = ", ".join(f"{value:z.4g}" for value in point)
    return Fault(
        f"the cuts leave a piece near ({where}) that may be too thin for the facets, which are true to {error:.2g} mm",
        hint="cut deeper, so that surely nothing is left there, or less deep; or give a smaller facet_error",
    )


def _moved(mesh: Mesh, way: float) -> Mesh:
    """``mesh`` with its round faces moved outwards by ``way`` mm, inwards where negative; without surface error.

    Where a round face ends at a plane one its rim moves along the plane.
    """
    if way == 0:
        return mesh
    corners = mesh.vertices[mesh.faces]
    along = np.roll(corners, -1, axis=1) - corners
    across = np.roll(corners, 1, axis=1) - corners
    normals = np.cross(along, across)
    lengths = np.linalg.norm(normals, axis=2)
    normals /= np.where(lengths > 0, lengths, 1)[..., None]
    angles = np.arctan2(lengths, np.einsum("fki,fki->fk", along, across))
    sound = (lengths > 0).all(axis=1)
    moving = _round_faces(mesh)
    pulls = angles[..., None] * normals
    vertex, normal = mesh.faces[moving & sound].ravel(), normals[moving & sound].reshape(-1, 3)
    mitre, plane = (_summed(mesh, pulls, faces & sound) for faces in (moving, ~moving))
    mitre -= np.einsum("ni,ni->n", mitre, plane)[:, None] * plane
    mitre /= np.maximum(np.linalg.norm(mitre, axis=1), 1e-12)[:, None]
    cosine = np.ones(len(mitre))
    np.minimum.at(cosine, vertex, np.einsum("ni,ni->n", normal, mitre[vertex]))
    return Mesh(mesh.vertices + way * mitre / np.maximum(cosine, _BLUNTEST)[:, None], mesh.faces)


def _summed(mesh: Mesh, pulls: Floats, kept: NDArray[np.bool_]) -> Floats:
    """At each vertex the direction (n, 3) of the sum of the ``pulls`` (m, 3, 3) of ``kept`` facets; 0 without any."""
    total = np.zeros_like(mesh.vertices)
    np.add.at(total, mesh.faces[kept].ravel(), pulls[kept].reshape(-1, 3))
    return np.asarray(total / np.maximum(np.linalg.norm(total, axis=1), 1e-12)[:, None])


def _round_faces(mesh: Mesh) -> NDArray[np.bool_]:
    """Which facets (m,) stand for a round surface; all, where the steps are too coarse to tell."""
    found = np.zeros(len(mesh.faces), dtype=bool)
    found[bends_of(mesh).facets.ravel()] = True
    return found if found.any() else ~found


def _samples(mesh: Mesh) -> Floats:
    """Corners, centres and edge middles (n, 3) of all facets."""
    corners = mesh.vertices[mesh.faces]
    middles = (corners + np.roll(corners, 1, axis=1)) / 2
    return np.concatenate([mesh.vertices, corners.mean(axis=1), middles.reshape(-1, 3)])


def _farthest(points: Floats, mesh: Mesh, within: float) -> tuple[Floats, float]:
    """The point farthest from the facets of ``mesh`` and how far it is, mm; 0 if all are ``within``."""
    from scipy.spatial import cKDTree

    near = cKDTree(_samples(mesh)).query(points)[0]
    kept = near > within
    points, near = points[kept], near[kept]
    corners = mesh.vertices[mesh.faces]
    corners = corners[
        np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1) > 0
    ]
    blocks = range(0, len(points), _BLOCK)
    found = [_distances(points[k : k + _BLOCK], near[k : k + _BLOCK], corners) for k in blocks]
    distance = np.concatenate([np.zeros(0), *found])
    if distance.max(initial=0.0) <= within:
        return np.zeros(3), 0.0
    return points[int(distance.argmax())], float(distance.max())


def _distances(points: Floats, near: Floats, corners: Floats) -> Floats:
    """From each of ``points`` (n, 3) to the triangles ``corners`` (m, 3, 3), known to be ``near`` (n,) mm or less."""
    from trimesh import triangles

    low, high = corners.min(axis=1), corners.max(axis=1)
    apart = np.maximum(np.maximum(low - points[:, None], points[:, None] - high), 0.0)
    point, triangle = np.nonzero((apart**2).sum(axis=2) <= near[:, None] ** 2)
    reached = triangles.closest_point(corners[triangle], points[point])  # type: ignore[no-untyped-call]  # trimesh has no types here
    distance = near.copy()
    np.minimum.at(distance, point, np.linalg.norm(reached - points[point], axis=1))
    return distance
