"""Uniting, cutting and intersecting solids exactly; the only door to manifold3d.

A mesh may hold several closed shells that run into each other, as the shapes of one part do: they
are united before anything else, so that no volume counts twice. Shells that point inwards are hollows.
A mesh without facets is the empty solid.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from assembly.errors import ShapeError
from assembly.geometry.cut_error import cut_error
from assembly.geometry.inside import encloses
from assembly.geometry.mesh import Mesh, joined
from assembly.geometry.seams import touching_parted
from assembly.geometry.shells import components, edges_of

if TYPE_CHECKING:
    from manifold3d import Manifold

_THINNEST = 1e-6
"""mm; a shell that is no thicker, its volume shared over half its area, is rounding."""
_ROUNDING = 1e-9
"""mm by which a volume shared over its surface may seem to change."""
_NUDGES = (0.0, 1e-9, 1e-8, 1e-7, 1e-7, 1e-7)
"""mm by which vertices are moved, one after the other, until no volume is lost."""
_REASONS = {
    "NotManifold": "its surface is not closed, or its facets do not agree which side is outside",
    "ResultTooLarge": "the result would have too many facets",
}


def union(meshes: Iterable[Mesh]) -> Mesh:
    """The solid that all ``meshes`` fill together. Raises ShapeError where one does not enclose a volume.

    Its surface error is the largest of the meshes': what is true of a point of one of them, that it is no farther
    than this from that one's facets, is true of the whole, however shallow the groove in which two of them meet.
    """
    from manifold3d import Manifold, OpType

    parts = list(meshes)
    made = Manifold.batch_boolean([_solid(part) for part in parts], OpType.Add)
    return replace(_mesh_from(made), surface_error=max((part.surface_error for part in parts), default=0.0))


def difference(mesh: Mesh, tools: Iterable[Mesh]) -> Mesh:
    """What is left of ``mesh`` once ``tools`` are cut away; possibly nothing (no facets).

    Its surface error is that of the sharpest edge that the cuts make, see ``cut_error``.
    """
    from manifold3d import Manifold, OpType

    parts = [mesh, *tools]
    solids = [_solid(part) for part in parts]
    return _with_cut_error(Manifold.batch_boolean(solids, OpType.Subtract), solids, parts)


def intersection(first: Mesh, second: Mesh) -> Mesh:
    """The solid that both meshes claim; possibly nothing (no facets). Surface error as for ``difference``."""
    solids = [_solid(first), _solid(second)]
    return _with_cut_error(solids[0] ^ solids[1], solids, (first, second))


def volume(mesh: Mesh) -> float:
    """Volume in mm³ that ``mesh`` fills, each place counted once even where its shells run into each other."""
    return float(_solid(mesh).volume())


def simplified(mesh: Mesh, within: float) -> Mesh:
    """``mesh`` with fewer facets, shell by shell, its surface moved by less than ``within`` mm."""
    _require_valid(mesh)
    made = joined(_mesh_from(_shell(shell).simplify(within)) for shell in components(mesh))
    return replace(made, surface_error=mesh.surface_error + within)


def _solid(mesh: Mesh) -> Manifold:
    """``mesh`` as one manifold whose shells are united and whose hollows are cut out."""
    from manifold3d import Manifold, OpType

    _require_valid(mesh)
    edges = edges_of(mesh.faces)
    if len(edges.crowded) and not edges.balance.any():
        mesh = Mesh(*touching_parted(mesh.vertices, mesh.faces, edges))
    shells = components(mesh)
    bodies = [shell for shell in shells if shell.volume > 0]
    hollows = [shell for shell in shells if shell.volume <= 0 and not _is_flat(shell)]
    bodies.sort(key=lambda body: body.volume)
    made = [_shell(body) for body in bodies]
    for hollow in hollows:
        host = next((k for k, body in enumerate(bodies) if encloses(body, hollow)), None)
        if host is None:
            raise ShapeError(f"a solid with {len(hollow.faces)} facets is inside out: its facets must face outwards")
        made[host] -= _shell(Mesh(hollow.vertices, hollow.faces[:, ::-1]))
    return made[0] if len(made) == 1 else Manifold.batch_boolean(made, OpType.Add)


def _is_flat(shell: Mesh) -> bool:
    """Whether a shell is a sliver that rounding left where faces lie flush: as a solid or a hollow it is nothing."""
    return abs(shell.volume) <= _THINNEST * _area(shell) / 2


def _area(shell: Mesh) -> float:
    a, b, c = (shell.vertices[shell.faces[:, k]] for k in range(3))
    return float(np.linalg.norm(np.cross(b - a, c - a), axis=1).sum()) / 2


def _shell(shell: Mesh) -> Manifold:
    """One closed, outward shell as a manifold; its status is checked, since manifold3d makes bad input empty.

    manifold3d 3.5 swaps edges of facets without width, and may lose a part of the volume with them (status NoError).
    Where that is so its vertices are moved by a chance that gives such facets a width, far less than is measured.
    """
    from manifold3d import Manifold, Mesh64

    faces = np.array(shell.faces, dtype=np.uint64, order="C")
    chance, area = np.random.default_rng(0), _area(shell)
    for far in _NUDGES:
        made = Manifold(Mesh64(shell.vertices + far * chance.uniform(-1, 1, shell.vertices.shape), faces))
        _require_good(made, f"cannot make a solid of {len(shell.faces)} facets")
        if abs(made.volume() - shell.volume) <= (far + _ROUNDING) * area:
            return made
    raise ShapeError(f"cannot make a solid of {len(shell.faces)} facets: facets without width upset it")


def _require_valid(mesh: Mesh) -> None:
    """Refuses what would send every later step astray."""
    task = f"cannot make a solid of {len(mesh.faces)} facets"
    if not np.isfinite(mesh.vertices).all():
        raise ShapeError(f"{task}: a vertex is not a finite number")
    if mesh.faces.min(initial=0) < 0 or mesh.faces.max(initial=-1) >= len(mesh.vertices):
        raise ShapeError(f"{task}: a facet names a vertex that does not exist; there are {len(mesh.vertices)}")


def _mesh_from(solid: Manifold) -> Mesh:
    _require_good(solid, "the solids cannot be combined")
    made = solid.to_mesh64()
    return Mesh(np.asarray(made.vert_properties)[:, :3], np.asarray(made.tri_verts))


def _with_cut_error(solid: Manifold, solids: Sequence[Manifold], parts: Sequence[Mesh]) -> Mesh:
    """``solid`` as a mesh; ``solids`` are the ``parts`` that it was cut from, whose facets it still knows."""
    cut = _mesh_from(solid)
    if not any(part.surface_error for part in parts):
        return cut
    owners = {shell: k for k, each in enumerate(solids) for shell in each.to_mesh64().run_original_id}
    made = solid.to_mesh64()
    runs = np.diff(made.run_index) // 3
    owner = np.repeat([owners[shell] for shell in made.run_original_id], runs).astype(np.int64)
    return replace(cut, surface_error=cut_error(cut, owner, parts))


def _require_good(solid: Manifold, task: str) -> None:
    status = solid.status().name
    if status != "NoError":
        raise ShapeError(f"{task}: {_REASONS.get(status, status)}")
