"""A shell that runs through itself, as the solid that it fills: cut apart, united, and then proven.

The boolean library gives wrong volumes for such a shell and says nothing. So it is only given pieces that do not cross
themselves, and what it makes of them is held against the shell itself, by winding numbers: the result is the set of
points that the shell goes round once or twice. Where it goes round any point backwards, or more often, nothing is made.
"""

from __future__ import annotations

import numpy as np

from assembly.errors import ShapeError
from assembly.geometry.crossings import Meetings, crosses_itself, meetings
from assembly.geometry.inside import winding_number
from assembly.geometry.mesh import Floats, Mesh, joined
from assembly.geometry.solids import cut_apart, union
from assembly.time_limit import check_time

MOST_FACETS = 3000
"""Facets up to which a repair is tried: its proof costs the square of their number."""
DEEPEST = 6
"""How often what still crosses itself is cut again."""
TOLERANCE = 1e-6
"""mm by which facets of the result and of the shell may pass each other, and two results may differ."""
STEP = 1e-5
"""mm from a facet at which it is asked how often the shell goes round; it is added to the surface error."""
SPOTS = (
    (1 / 3, 1 / 3, 1 / 3),
    *((0.9, 0.05, 0.05), (0.05, 0.9, 0.05), (0.05, 0.05, 0.9)),
    *((0.48, 0.48, 0.04), (0.04, 0.48, 0.48), (0.48, 0.04, 0.48)),
)
"""Where on a facet it is asked: shares of its three corners."""
LINES = 200
"""Along each axis, on which the stretches that are filled are compared."""
SPREAD = np.array([0.7548776662466927, 0.5698402909980532])
"""Steps that spread places evenly over a square: powers of the root of x³ = x + 1 (common practice)."""
MARGINS = (0.03, 0.041)
"""Shares of the shell's size by which the first cuts stay off its crossings, one for each of two ways of cutting."""


def united_shell(shell: Mesh) -> Mesh | None:
    """The solid that ``shell``, closed, outward and crossing itself, fills; None where that cannot be proven."""
    if len(shell.faces) > MOST_FACETS or not np.isin(_beside(shell, shell), (0, 1, 2)).all():
        return None
    try:
        made = [_united(shell, margin) for margin in MARGINS]
    except ShapeError:
        return None
    first, second = made
    if first is None or second is None or abs(first.volume - second.volume) > TOLERANCE * _area(shell):
        return None
    return first if _is_filled(shell, first) else None


def _united(shell: Mesh, margin: float) -> Mesh | None:
    """The union of pieces of ``shell`` none of which crosses itself; None where it cannot be cut so."""
    size = float(np.ptp(shell.vertices, axis=0).max())
    pieces, done = [shell], []
    for depth in range(DEEPEST):
        crossing = [piece for piece in pieces if crosses_itself(piece)]
        done += [piece for piece in pieces if not any(piece is one for one in crossing)]
        pieces = [part for piece in crossing for part in _parted(piece, margin * size * 0.5**depth, depth)]
        if not pieces:
            made = union(done)
            return Mesh(made.vertices, made.faces, shell.surface_error + STEP)
    return None


def _parted(piece: Mesh, margin: float, depth: int) -> list[Mesh]:
    """``piece`` cut along the sides of the box round its crossings, and through their middle where that was done."""
    check_time()
    found = meetings(piece.vertices, piece.faces)
    low, high = found.points.min(axis=0) - margin, found.points.max(axis=0) + margin
    planes = [(axis, float(at)) for axis in range(3) for at in (low[axis], high[axis])]
    if depth:
        axis = int(np.argmax(high - low))
        planes.append((axis, float(np.median(found.points[:, axis])) + margin / 7))
    parts = [piece]
    for axis, at in planes:
        parts = [part for each in parts for part in cut_apart(each, axis, at)]
    return parts


def _is_filled(shell: Mesh, solid: Mesh) -> bool:
    """Whether ``solid`` is what ``shell`` goes round once or twice, its surface on the shell's."""
    return (
        not crosses_itself(solid)
        and not _pierced(shell, solid)
        and _parts_outside_from_inside(shell, solid)
        and _holds_all(shell, solid)
        and _same_along_lines(shell, solid)
    )


def _pierced(shell: Mesh, solid: Mesh) -> bool:
    """Whether a facet of the one passes through one of the other: the count beside it is then not one number."""
    both = joined([solid, shell])
    found: Meetings = meetings(both.vertices, both.faces)
    low, high = found.pairs.T
    return bool(np.any(found.depths[(low < len(solid.faces)) & (high >= len(solid.faces))] > TOLERANCE))


def _parts_outside_from_inside(shell: Mesh, solid: Mesh) -> bool:
    """Whether at every facet of ``solid`` the shell goes round no point outside and every point inside.

    So each lies within a step of the shell. Facets too narrow to be asked lie along the edges of others.
    """
    spots, normals = _spots(solid)
    outside = np.rint(winding_number(spots + STEP * normals, shell))
    inside = np.rint(winding_number(spots - STEP * normals, shell))
    return bool(np.all(outside == 0) and np.all((inside == 1) | (inside == 2)))


def _holds_all(shell: Mesh, solid: Mesh) -> bool:
    """Whether beside every facet of ``shell`` the solid is where the shell goes round, and nowhere else."""
    return bool(np.all(_beside(solid, shell) == (_beside(shell, shell) >= 1)))


def _beside(mesh: Mesh, shell: Mesh) -> Floats:
    """How often (k,) ``mesh`` goes round points on either side of the facets of ``shell``."""
    spots, normals = _spots(shell)
    return np.rint(winding_number(np.concatenate([spots + STEP * normals, spots - STEP * normals]), mesh))


def _spots(mesh: Mesh) -> tuple[Floats, Floats]:
    """Points (k, 3) on the facets of ``mesh``, all over each, of narrow ones the middle; the unit normals (k, 3)."""
    corners = mesh.vertices[mesh.faces]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    doubled = np.linalg.norm(across, axis=1)
    longest = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
    width, normals = doubled / np.maximum(longest, 1e-300), across / np.maximum(doubled, 1e-300)[:, None]
    chosen = [(shares, width > (10 if row == 0 else 1000) * STEP) for row, shares in enumerate(SPOTS)]
    spots = [np.einsum("k,mkx->mx", np.array(shares), corners[wide]) for shares, wide in chosen]
    return np.concatenate(spots), np.concatenate([normals[wide] for _, wide in chosen])


def _same_along_lines(shell: Mesh, solid: Mesh) -> bool:
    """Whether ``solid`` fills just those stretches of many lines that the shell goes round once or twice."""
    low, high = shell.bounds
    shares = (0.5 + np.arange(1, LINES + 1)[:, None] * SPREAD) % 1.0
    for axis in range(3):
        across = [(axis + 1) % 3, (axis + 2) % 3]
        for place in low[across] + shares * (high - low)[across]:
            check_time()
            wanted, counts = _stretches(shell, axis, place)
            there, once = _stretches(solid, axis, place)
            if not (np.isin(counts, (0, 1, 2)).all() and np.isin(once, (0, 1)).all() and len(wanted) == len(there)):
                return False
            if np.abs(wanted - there).max(initial=0.0) > STEP:
                return False
    return True


def _stretches(mesh: Mesh, axis: int, place: Floats) -> tuple[Floats, Floats]:
    """Where (k,) mm a line along ``axis`` enters and leaves what ``mesh`` goes round, and how often it does after each.

    ``place`` (2,) mm: where the line runs, by the two axes that follow. Stretches and gaps below a step are left out.
    """
    corners = mesh.vertices[mesh.faces]
    flat = corners[:, :, [(axis + 1) % 3, (axis + 2) % 3]] - place
    ahead = np.roll(flat, -1, axis=1)
    areas = flat[..., 0] * ahead[..., 1] - flat[..., 1] * ahead[..., 0]
    hit = np.flatnonzero((areas > 0).all(axis=1) | (areas < 0).all(axis=1))
    shares = np.roll(areas[hit], -1, axis=1) / areas[hit].sum(axis=1, keepdims=True)
    at, way = (shares * corners[hit, :, axis]).sum(axis=1), -np.sign(areas[hit, 0])
    order = np.argsort(at, kind="stable")
    at, counts = at[order], np.cumsum(way[order])
    filled = np.concatenate([[False], counts > 0])
    kept: list[float] = []
    for each in at[filled[1:] != filled[:-1]].tolist():
        if kept and each - kept[-1] <= STEP:
            kept.pop()
        else:
            kept.append(each)
    return np.array(kept), counts


def _area(mesh: Mesh) -> float:
    a, b, c = (mesh.vertices[mesh.faces[:, k]] for k in range(3))
    return float(np.linalg.norm(np.cross(b - a, c - a), axis=1).sum()) / 2
