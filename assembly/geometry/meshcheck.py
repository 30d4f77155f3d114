"""Whether triangles from a file enclose a solid, and the repairs that are safe: each is either silent, said or refused.

The order matters: vertices are merged, useless facets dropped, seams closed, and only then is the
surface asked to be closed, agreed about its outside, and outward. What was dropped must then prove to be nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from assembly.errors import Fault, InputError
from assembly.geometry.crossings import crosses_itself, crossing_place, xyz_text
from assembly.geometry.facet_error import estimated_surface_error
from assembly.geometry.inside import encloses
from assembly.geometry.mesh import Floats, Indices, Mesh, joined
from assembly.geometry.seams import merged, seams_joined, touching_parted, used_only
from assembly.geometry.self_union import united_shell
from assembly.geometry.shells import EdgeTable, components, edges_of, labels_of

_FARTHEST = 1e9
"""mm; beyond it double precision no longer tells what is measured."""


@dataclass(frozen=True, slots=True)
class MeshFinding:
    """Something about a mesh file that the builder should know; ``repaired`` where its triangles were changed."""

    kind: Literal["note", "repaired"]
    message: str


def checked_mesh(vertices: Floats, faces: Indices, file: str) -> tuple[Mesh, list[MeshFinding]]:
    """The closed, outward surface in ``vertices`` (n, 3) mm and ``faces`` (m, 3), and what was done to get it.

    The mesh's surface error is what joining seams may have moved it by, in mm. Raises InputError
    where the triangles do not enclose a solid.
    """
    _require_numbers(vertices, faces, file)
    findings: list[MeshFinding] = []
    vertices, faces = merged(vertices, faces)
    faces, removed = _without_useless(faces, findings, file)
    edges, moved = edges_of(faces), 0.0
    if len(edges.open_halves):
        vertices, number, moved = seams_joined(vertices, faces, edges)
        if moved:
            findings.append(MeshFinding("repaired", f"joined seams that stood up to {moved:.1g} mm apart"))
        faces, more = _without_useless(number[faces], findings, file)
        removed = np.concatenate([number[removed], more])
        edges = edges_of(faces)
    _require_closed(vertices, faces, edges, file)
    faces, edges = _agreed(faces, edges, findings, file)
    mesh = _outward(Mesh(*used_only(*touching_parted(vertices, faces, edges)), moved), findings)
    place = crossing_place(vertices, faces, removed, mesh, file)
    if place is not None:
        mesh = _united(mesh, place, findings, file)
    if mesh.volume <= 0:
        raise InputError(Fault("encloses no volume", file=file, hint="a part must be a solid, not a sheet"))
    return mesh, findings


def _united(mesh: Mesh, place: Floats, findings: list[MeshFinding], file: str) -> Mesh:
    """``mesh``, whose shells run through themselves at ``place`` or elsewhere, as the solid that they fill.

    Where rings of the facets drawn do not show any more, what they tell of the true surface is added to its error.
    """
    shells = components(mesh)
    whole = [united_shell(shell) if crosses_itself(shell) else shell for shell in shells]
    made = [shell for shell in whole if shell is not None]
    if len(made) < len(whole) or any(shell.volume <= 0 for shell in shells):
        message = f"runs through itself: two of its faces cross at ({xyz_text(place)}) mm"
        hint = "no solid has such a surface: unite its bodies or redraw that place, and export it again"
        raise InputError(Fault(message, file=file, hint=hint))
    united = joined(made)
    counted = f"volume {mesh.volume:.8g}, with what lies in itself counted twice, became {united.volume:.8g} mm³"
    message = f"ran through itself at ({xyz_text(place)}) mm and was united with itself, which was proven: {counted}"
    findings.append(MeshFinding("repaired", message))
    unseen = estimated_surface_error(mesh).largest - estimated_surface_error(united).largest
    return replace(united, surface_error=united.surface_error + max(0.0, unseen))


def _require_numbers(vertices: Floats, faces: Indices, file: str) -> None:
    if not len(faces):
        raise InputError(Fault("holds no triangles", file=file, hint="export the solid as a triangle mesh"))
    bad = int(np.count_nonzero(~np.isfinite(vertices).all(axis=1)))
    if bad:
        vertices_told = "1 vertex is not finite" if bad == 1 else f"{bad} vertices are not finite numbers"
        raise InputError(Fault(f"{vertices_told} (NaN or infinite)", file=file))
    far = float(np.abs(vertices).max(initial=0.0))
    if far > _FARTHEST:
        message = f"a vertex lies {far:.3g} mm from the origin"
        raise InputError(Fault(message, file=file, hint=f"at most {_FARTHEST:.0e} mm: is the unit right?"))
    astray = int(np.count_nonzero(np.any((faces < 0) | (faces >= len(vertices)), axis=1)))
    if astray:
        facets = "1 facet names" if astray == 1 else f"{astray} facets name"
        message = f"{facets} a vertex that does not exist; there are {len(vertices)}"
        raise InputError(Fault(message, file=file))


def _without_useless(faces: Indices, findings: list[MeshFinding], file: str) -> tuple[Indices, Indices]:
    """``faces`` without those that have a corner twice or are there twice, and those that were left out.

    Facets that lie back to back are either the wall between two bodies that touch (both go) or a
    surface drawn from both sides (one stays): whichever leaves fewer edges open.
    """
    repeated = (faces[:, 0] == faces[:, 1]) | (faces[:, 1] == faces[:, 2]) | (faces[:, 2] == faces[:, 0])
    kept = faces[~repeated]
    left = _without_twins(kept, keep_one=False)
    if not left.all():
        one = _without_twins(kept, keep_one=True)
        if not left.any() or len(edges_of(kept[one]).open_halves) < len(edges_of(kept[left]).open_halves):
            left = one
    if not left.any():
        raise InputError(Fault("none of its triangles has an area", file=file))
    counts = ((int(repeated.sum()), "without area"), (int((~left).sum()), "there twice or lying back to back"))
    said = " and ".join(f"{count} {what}" for count, what in counts if count)
    if said:
        findings.append(MeshFinding("repaired", f"removed facets: {said}"))
    return kept[left], np.concatenate([faces[repeated], kept[~left]])


def _without_twins(faces: Indices, *, keep_one: bool) -> NDArray[np.bool_]:
    """Which facets (m,) to keep: one of each set on the same three vertices; of sets that cancel, one or none."""
    low, high = faces.min(axis=1), faces.max(axis=1)
    middle = faces.sum(axis=1) - low - high
    order = np.lexsort((high, middle, low))
    same = np.all([np.diff(part[order]) == 0 for part in (low, middle, high)], axis=0)
    if not same.any():
        return np.ones(len(faces), dtype=np.bool_)
    first = np.flatnonzero(np.concatenate([[True], ~same]))
    way = np.where(np.roll(faces, -1, axis=1)[np.arange(len(faces)), faces.argmin(axis=1)] == middle, 1, -1)[order]
    net = np.sign(np.add.reduceat(way, first))
    size = np.diff(first, append=len(faces))
    wanted = np.where((net == 0) & keep_one, way[first], net)
    fits = np.flatnonzero(way == np.repeat(wanted, size))
    group = np.repeat(np.arange(len(first)), size)[fits]
    kept = np.zeros(len(faces), dtype=np.bool_)
    kept[order[fits[np.unique(group, return_index=True)[1]]]] = True
    return kept


def _require_closed(vertices: Floats, faces: Indices, edges: EdgeTable, file: str) -> None:
    """Refuse a surface with open edges, or with edges that an odd number of facets share."""
    halves = edges.open_halves
    odd = int(np.count_nonzero((edges.uses > 2) & (edges.uses % 2 == 1)))
    pieces = []
    if len(halves):
        start = vertices[faces[halves[0] // 3, halves[0] % 3]]
        where = ", ".join(f"{value:z.6g}" for value in start)
        pieces.append(f"is not closed: {len(halves)} open edges, one at ({where}) mm")
    if odd:
        pieces.append(f"is not a solid's surface: {odd} non-manifold edges, shared by an odd number of facets")
    if pieces:
        raise InputError(Fault("; ".join(pieces), file=file, hint="close the surface and export it again"))


def _agreed(faces: Indices, edges: EdgeTable, findings: list[MeshFinding], file: str) -> tuple[Indices, EdgeTable]:
    """``faces`` turned so that neighbours agree which side is outside, the fewest in each shell being turned."""
    one, other = edges.pairs.T
    against = edges.forward[one] == edges.forward[other]
    if against.any():
        turned = _turned_facets(one // 3, other // 3, against, len(faces), file)
        faces = np.where(turned[:, None], faces[:, ::-1], faces)
        edges = edges_of(faces)
        message = f"turned {int(turned.sum())} facets that faced the other way than their neighbours"
        findings.append(MeshFinding("repaired", message))
    unbalanced = int(np.count_nonzero(edges.balance))
    if unbalanced:
        message = f"{unbalanced} non-manifold edges whose facets do not agree which side is outside"
        raise InputError(Fault(f"is not a solid's surface: {message}", file=file))
    return faces, edges


def _turned_facets(
    one: Indices, other: Indices, against: NDArray[np.bool_], count: int, file: str
) -> NDArray[np.bool_]:
    """Which of ``count`` facets to turn so that neighbours ``one`` and ``other`` agree where they are ``against``.

    Each facet stands twice in a graph, as it is and turned; neighbours are linked in the states that agree.
    Of the two ways a shell can agree the one that turns fewer facets is taken (on a tie the first facet stays).
    """
    links = [[one, other + count * against], [one + count, other + count * ~against]]
    label = labels_of(2 * count, np.concatenate(links, axis=1).T)
    as_is, turned = label[:count], label[count:]
    if np.any(as_is == turned):
        raise InputError(Fault("has one side only, like a Möbius strip: it encloses no solid", file=file))
    size = np.bincount(as_is, minlength=int(label.max()) + 1)
    fewer: NDArray[np.bool_] = (size[as_is] < size[turned]) | ((size[as_is] == size[turned]) & (as_is > turned))
    return fewer


def _outward(mesh: Mesh, findings: list[MeshFinding]) -> Mesh:
    """``mesh`` with every body facing outwards; a shell that faces inwards inside another body stays, as a hollow.

    From the largest shell down: an inward shell that lies in no solid is inside out, together with all that lies in it.
    """
    shells = components(mesh)
    volumes = np.array([shell.volume for shell in shells])
    boxes = np.array([shell.bounds for shell in shells])
    way, turned, hollows = np.sign(volumes), 0, 0
    for k in np.argsort(-np.abs(volumes), kind="stable"):
        larger = np.abs(volumes) > np.abs(volumes[k])
        round_it = larger & np.all((boxes[:, 0] <= boxes[k, 0]) & (boxes[:, 1] >= boxes[k, 1]), axis=1)
        depth = sum(way[j] for j in np.flatnonzero(round_it) if encloses(shells[j], shells[k]))
        if way[k] < 0 and depth > 0:
            hollows += 1
        elif way[k] < 0:
            within = np.all((boxes[k, 0] <= boxes[:, 0]) & (boxes[k, 1] >= boxes[:, 1]), axis=1)
            for j in np.flatnonzero(within):
                if j == k or encloses(shells[k], shells[j]):
                    way[j], shells[j] = -way[j], Mesh(shells[j].vertices, shells[j].faces[:, ::-1], mesh.surface_error)
            turned += 1
    if turned:
        said = "was inside out" if len(shells) == 1 else f"had {turned} bodies inside out"
        before, after = float(volumes.sum()), float(np.abs(volumes) @ way)
        findings.append(MeshFinding("repaired", f"{said}: turned, volume {before:.6g} became {after:.6g} mm³"))
    if hollows:
        findings.append(MeshFinding("note", f"holds {hollows} closed hollows"))
    return joined(shells) if turned else mesh
