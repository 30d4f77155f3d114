"""How far the true surface of a cut solid may lie from its facets: sharp edges move farther than the faces do."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.facet_error import bends_of
from assembly.geometry.mesh import Floats, Indices, Mesh
from assembly.geometry.rotations import cross
from assembly.geometry.shells import edges_of

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
