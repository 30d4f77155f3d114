"""Uniting, cutting and intersecting solids exactly; the only door to manifold3d.

A mesh may hold several closed shells that run into each other, as the shapes of one part do: they are united before
anything else, so that no volume counts twice. Shells that point inwards are hollows. A mesh without facets is the empty
solid. The true surface of a cut solid may lie farther from its facets than that of what it was cut from: sharp edges
move farther than faces do.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from assembly.errors import ShapeError
from assembly.geometry.facet_error import bends_of
from assembly.geometry.inside import encloses
from assembly.geometry.mesh import Flags, Floats, Indices, Mesh, joined
from assembly.geometry.rotations import cross
from assembly.geometry.seams import touching_parted
from assembly.geometry.shells import components, edges_of

_SHARPEST = 1e-6
"""rad; a wedge is taken for no sharper than this."""


def cut_error(cut: Mesh, owner: Indices, sources: Sequence[Mesh]) -> float:
    """Bound in mm on the distance between the facets of ``cut`` and the true surface, both ways.

    ``cut`` is what two or more of ``sources`` have in common, or what cutting some of them from another leaves;
    ``owner`` (m,) is the source that each facet comes from.

    Away from the edges where two sources meet a facet keeps its source's error. At such an edge the solid is a wedge,
    and as its faces move out by e and f its edge moves by √(e² + f² + 2 e f cos w)/sin w, for an interior angle w
    (closed form: the meeting point of two lines; for e = f it is e/sin(w/2), √2 e at a right angle). An obtuse wedge
    with e + f cos w < 0 moves by f. At a corner, w is the least over all normals on one source's convex edges.

    The facets' own steps are allowed for: w is measured on facets and lessened by the widest step of the curve that
    each source with an error shows, since true normals lie within a step of the facets'. Where hardly a wedge is left,
    a curve that sinks below a plane leaves it no farther off than half a facet's width (r sin h, where a chord of
    half-angle h sags by r(1 - cos h)); a whole width is allowed, and of two curves both.

    Assumed: steps are below 40°, as in ``facet_error``; two curves do not run along each other; no piece of the
    cut is thinner than the errors, for such a piece the facets may lack. ``lost_pieces`` looks for both.
    """
    errors = np.array([source.surface_error for source in sources])
    least = float(errors.max(initial=0.0))
    if least == 0 or not len(cut.faces):
        return least
    shown = [bends_of(source) if source.surface_error > 0 else None for source in sources]
    steps = np.array([0.0 if bends is None else bends.angle.max(initial=0.0) for bends in shown])
    widths = np.array([0.0 if bends is None else bends.widths.max(initial=0.0) or np.inf for bends in shown])
    one, other, turn = _wedges(cut, owner)
    wedge = np.clip(np.pi - turn - steps[one] - steps[other], _SHARPEST, np.pi)
    moved = np.minimum(_edge_shift(errors[one], errors[other], wedge), widths[one] + widths[other])
    return max(least, float(moved.max(initial=0.0)))


def _edge_shift(first: Floats, second: Floats, wedge: Floats) -> Floats:
    """How far (n,) mm the edge of a ``wedge`` (rad) moves as its faces move out by ``first`` and ``second`` mm."""
    low, high = np.minimum(first, second), np.maximum(first, second)
    cosine = np.cos(wedge)
    both = np.sqrt(np.maximum(low**2 + high**2 + 2 * low * high * cosine, 0.0)) / np.maximum(np.sin(wedge), 1e-12)
    return np.asarray(np.where(low + high * cosine < 0, high, both))


def _wedges(cut: Mesh, owner: Indices) -> tuple[Indices, Indices, Floats]:
    """The owners of surfaces that meet at a vertex, and the widest angle (rad) between their outward normals there."""
    corners = cut.vertices[cut.faces]
    normals = cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    lengths = np.linalg.norm(normals, axis=1)
    normals /= np.where(lengths > 0, lengths, 1)[:, None]
    vertex, facet = cut.faces.ravel(), np.repeat(np.arange(len(cut.faces)), 3)
    mixed = _mixed(vertex, owner[facet], len(cut.vertices)) & (lengths[facet] > 0)
    vertex, facet = vertex[mixed], facet[mixed]
    at, left, right = _convex_edges(cut, owner, normals, lengths > 0)
    at, left, right = (np.concatenate(pair) for pair in ((vertex, at), (facet, left), (facet, right)))
    order = np.argsort(vertex, kind="stable")
    vertex, facet = vertex[order], facet[order]
    start = np.searchsorted(vertex, at)
    count = np.searchsorted(vertex, at, side="right") - start
    row = np.repeat(np.arange(len(at)), count)
    met = facet[np.arange(len(row)) + np.repeat(start - (np.cumsum(count) - count), count)]
    foreign = owner[left[row]] != owner[met]
    row, met = row[foreign], met[foreign]
    cosine = _least_cosine(normals[left[row]], normals[right[row]], normals[met])
    return owner[left[row]], owner[met], np.arccos(np.clip(cosine, -1.0, 1.0))


def _mixed(vertex: Indices, owner: Indices, count: int) -> NDArray[np.bool_]:
    """Which corners are at a vertex where facets of two owners or more meet."""
    lowest, highest = np.full(count, np.iinfo(np.int64).max), np.full(count, -1)
    np.minimum.at(lowest, vertex, owner)
    np.maximum.at(highest, vertex, owner)
    return np.asarray((lowest != highest)[vertex])


def _convex_edges(
    cut: Mesh, owner: Indices, normals: Floats, sound: NDArray[np.bool_]
) -> tuple[Indices, Indices, Indices]:
    """Both ends of every convex edge between facets of one owner, and the facets on either side of it."""
    halves = edges_of(cut.faces).pairs
    left, right = halves.T // 3
    tip = cut.vertices[cut.faces[right, (halves[:, 1] + 2) % 3]]
    start = cut.faces[left, halves[:, 0] % 3]
    end = cut.faces[left, (halves[:, 0] + 1) % 3]
    below = np.einsum("ij,ij->i", tip - cut.vertices[start], normals[left]) < 0
    kept = (owner[left] == owner[right]) & below & sound[left] & sound[right]
    return np.concatenate([start[kept], end[kept]]), np.tile(left[kept], 2), np.tile(right[kept], 2)


def _least_cosine(left: Floats, right: Floats, normal: Floats) -> Floats:
    """Least cosine (n,) of the angle from ``normal`` to any direction between ``left`` and ``right`` (n, 3)."""
    along = np.einsum("ij,ij->i", left, normal)
    ends = np.minimum(along, np.einsum("ij,ij->i", right, normal))
    spread = np.einsum("ij,ij->i", left, right)
    aside = right - spread[:, None] * left
    width = np.linalg.norm(aside, axis=1)
    across = np.einsum("ij,ij->i", aside, normal) / np.where(width > 0, width, 1)
    lowest = np.arctan2(-across, -along)
    between = (lowest >= 0) & (lowest <= np.arctan2(width, spread)) & (width > 0)
    return np.asarray(np.where(between, -np.hypot(along, across), ends))


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


def cut_out(mesh: Mesh, tool: Mesh) -> tuple[Mesh, Flags]:
    """What ``tool`` takes of ``mesh``, as ``intersection``, and which of its facets lie on the surface of ``mesh``."""
    solids = [_solid(mesh), _solid(tool)]
    made = solids[0] ^ solids[1]
    return _with_cut_error(made, solids, (mesh, tool)), _owners(made, solids) == 0


def cut_apart(shell: Mesh, axis: int, at: float) -> list[Mesh]:
    """The connected pieces of ``shell`` on both sides of the plane where the coordinate ``axis`` is ``at`` mm.

    A shell that crosses itself is cut too; what comes of it has to be looked at.
    """
    normal = [0.0, 0.0, 0.0]
    normal[axis] = 1.0
    pieces: list[Mesh] = []
    for side in _shell(shell).split_by_plane(tuple(normal), at):
        pieces += [_mesh_from(piece) for piece in side.decompose() if not piece.is_empty()]
    return pieces


def simplifier(mesh: Mesh) -> Callable[[float], Mesh]:
    """Gives ``mesh`` with fewer facets, shell by shell, its surface moved by less than as many mm as it is given."""
    _require_valid(mesh)
    shells = [_shell(shell) for shell in components(mesh)]

    def simplified(within: float) -> Mesh:
        made = joined(_mesh_from(shell.simplify(within)) for shell in shells)
        return replace(made, surface_error=mesh.surface_error + within)

    return simplified


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
    return replace(cut, surface_error=cut_error(cut, _owners(solid, solids), parts))


def _owners(solid: Manifold, solids: Sequence[Manifold]) -> Indices:
    """For each facet of ``solid`` the number of that of the ``solids`` it was cut from that it lies on."""
    owners = {shell: k for k, each in enumerate(solids) for shell in each.to_mesh64().run_original_id}
    made = solid.to_mesh64()
    runs = np.diff(made.run_index) // 3
    return np.repeat([owners[shell] for shell in made.run_original_id], runs).astype(np.int64)


def _require_good(solid: Manifold, task: str) -> None:
    status = solid.status().name
    if status != "NoError":
        raise ShapeError(f"{task}: {_REASONS.get(status, status)}")
