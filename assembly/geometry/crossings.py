"""Faults of a surface that its edges do not show: a shell that runs through itself, and sheets that no solid holds.

Facets that meet away from the corners they share are found by a tree of bounds, then edges against facets.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from assembly.errors import Fault, InputError
from assembly.geometry.inside import contains, winding_number
from assembly.geometry.mesh import Floats, Indices, Mesh
from assembly.geometry.shells import edges_of, labels_of
from assembly.time_limit import check_time

_DIRECTIONS = np.array(
    [(1, 0, 0), (0, 1, 0), (0, 0, 1), (1, 1, 0), (1, -1, 0), (1, 0, 1), (1, 0, -1), (0, 1, 1), (0, 1, -1)], dtype=float
)
"""Along which facets are bounded: with the diagonals, long thin facets that lie askew are distinguished too."""
_AT_ONCE = 1 << 16
"""Pairs worked on at once: bounds the memory whatever the surface."""
_SLACK = 1e-9
"""mm within which an edge counts as meeting a facet: above rounding, below what any file means."""


class Meetings(NamedTuple):
    """Pairs (k, 2) of facets that meet, a point (k, 3) of each meeting and how far (k,) the facets pass each other."""

    pairs: Indices
    points: Floats
    depths: Floats


def meetings(vertices: Floats, faces: Indices) -> Meetings:
    """Where facets of ``faces`` (m, 3) over ``vertices`` (n, 3) mm cut or touch away from corners they share.

    Facets that share an edge, and facets in one plane, are left out: where those lie on each other, the facets
    next to them meet. The depth is 0 if they only touch.
    """
    triangles = vertices[faces]
    slack = max(_SLACK, 1e-13 * float(np.abs(vertices).max(initial=0.0)))
    found = [_meeting(triangles, faces, pairs, slack) for pairs in _near(triangles, slack)]
    if not found:
        return Meetings(np.empty((0, 2), dtype=np.int64), np.empty((0, 3)), np.empty(0))
    return Meetings(*(np.concatenate(part) for part in zip(*found, strict=True)))


def _near(triangles: Floats, slack: float) -> Iterator[Indices]:
    """Pairs (k, 2), lower number first, of ``triangles`` (m, 3, 3) whose bounds overlap, some at a time."""
    order = np.argsort(_morton(triangles.mean(axis=1)), kind="stable")
    a, b, c = (_DIRECTIONS @ triangles[order, k].T for k in range(3))
    low, high = [np.minimum(np.minimum(a, b), c) - slack], [np.maximum(np.maximum(a, b), c) + slack]
    while (count := low[-1].shape[1]) > 1:
        low.append(np.minimum(low[-1][:, ::2], low[-1][:, np.minimum(np.arange(1, count + 1, 2), count - 1)]))
        high.append(np.maximum(high[-1][:, ::2], high[-1][:, np.minimum(np.arange(1, count + 1, 2), count - 1)]))
    waiting = [(len(low) - 1, np.zeros((1, 2), dtype=np.int64))]
    while waiting:
        check_time()
        level, pairs = waiting.pop()
        if len(pairs) > _AT_ONCE:
            half = len(pairs) // 2
            waiting += [(level, pairs[half:]), (level, pairs[:half])]
        elif level == 0:
            yield np.sort(order[pairs[pairs[:, 0] != pairs[:, 1]]], axis=1)
        else:
            one, other = _children(pairs, low[level - 1].shape[1])
            for bottom, top in zip(low[level - 1], high[level - 1], strict=True):
                near = np.flatnonzero((bottom[one] <= top[other]) & (bottom[other] <= top[one]))
                one, other = one[near], other[near]
            waiting.append((level - 1, np.stack([one, other], axis=1)))


def _children(pairs: Indices, count: int) -> tuple[Indices, Indices]:
    """The pairs of nodes one level down, of ``count`` there, each once: the one (k,) and the other (k,)."""
    one, other = 2 * pairs.T
    lower, upper = np.concatenate([one, one, one + 1, one + 1]), np.concatenate([other, other + 1, other, other + 1])
    once = np.flatnonzero((lower <= upper) & (upper < count))
    return lower[once], upper[once]


def _morton(points: Floats) -> Indices:
    """Number (n,) of each of ``points`` (n, 3) along a curve that keeps near points near (Morton's order)."""
    low = points.min(axis=0)
    cells = ((points - low) * (1023 / max(float((points - low).max()), 1e-300))).astype(np.int64)
    bits = np.arange(10)
    spread = ((cells[:, :, None] >> bits & 1) << 3 * bits).sum(axis=2)
    code: Indices = spread @ np.array([1, 2, 4])
    return code


def _meeting(triangles: Floats, faces: Indices, pairs: Indices, slack: float) -> Meetings:
    """Those of ``pairs`` (k, 2) that meet."""
    one, other = faces[pairs.T]
    equal = np.stack([one[:, k, None] == other for k in range(3)], axis=1)
    rows = np.flatnonzero(np.count_nonzero(equal.reshape(-1, 9), axis=1) < 2)
    for first in (0, 1):
        away, normal = _heights(triangles, pairs[rows], equal[rows], first)
        shared = np.isnan(away)
        beside = np.all(shared | (away > slack), axis=1) | np.all(shared | (away < -slack), axis=1)
        in_plane = np.all(shared | (np.abs(away) <= slack), axis=1) & (np.linalg.norm(normal, axis=1) > 0)
        rows = rows[~beside & ~in_plane]
    pairs, equal = pairs[rows], equal[rows]
    total, count, depths = np.zeros((len(rows), 3)), np.zeros(len(rows)), []
    for first in (0, 1):
        points, met, depth = _pierced(triangles, pairs, equal, first, slack)
        total += np.where(met[..., None], points, 0).sum(axis=1)
        count += met.sum(axis=1)
        depths.append(depth)
    both = np.flatnonzero(count)
    shared = (np.count_nonzero(equal, axis=2) > 0)[..., None]
    total += np.where(shared, triangles[pairs[:, 0]], 0).sum(axis=1)
    count += shared.sum(axis=(1, 2))
    return Meetings(pairs[both], total[both] / count[both, None], np.min(depths, axis=0)[both])


def _heights(triangles: Floats, pairs: Indices, equal: NDArray[np.bool_], first: int) -> tuple[Floats, Floats]:
    """Heights (k, 3) of the corners of the second of each pair over the plane of the first, and its normal (k, 3).

    NaN for a shared corner. A facet without area has no plane: the heights are then 0.
    """
    base, other = triangles[pairs[:, first]], triangles[pairs[:, 1 - first]]
    normal = np.cross(base[:, 1] - base[:, 0], base[:, 2] - base[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-300)
    heights = np.einsum("kij,kj->ki", other - base[:, :1], normal)
    return np.where(equal.any(axis=1 + first), np.nan, heights), normal


def _pierced(
    triangles: Floats, pairs: Indices, equal: NDArray[np.bool_], first: int, slack: float
) -> tuple[Floats, NDArray[np.bool_], Floats]:
    """Where the edges of the second facet of each pair meet the first: points (k, 3, 3), whether (k, 3), depth (k,)."""
    heights, normal = _heights(triangles, pairs, equal, first)
    base, other = triangles[pairs[:, first]], triangles[pairs[:, 1 - first]]
    start, end = heights, np.roll(heights, -1, axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        across = (np.minimum(start, end) <= slack) & (np.maximum(start, end) >= -slack) & (start != end)
        part = np.clip(np.where(across, start / (start - end), 0), 0, 1)
    points = other + part[..., None] * (np.roll(other, -1, axis=1) - other)
    sides = np.roll(base, -1, axis=1) - base
    inward = np.cross(normal[:, None], sides)
    inward /= np.maximum(np.linalg.norm(inward, axis=2, keepdims=True), 1e-300)
    room = np.einsum("kpsj,ksj->kps", points[:, :, None] - base[:, None], inward).min(axis=2)
    met = across & (room >= -slack)
    held = np.where(np.isnan(heights), 0, heights)
    return points, met, np.maximum(0, np.minimum(held.max(axis=1), -held.min(axis=1)))


_TOLERANCE = 1e-5
"""mm by which a shell may run through itself: what rounding of a file leaves, below what is measured."""
_ROUNDING = 2.0**-20
"""The same relative to the largest coordinate, for files in single precision: eight steps."""
_WORK = 200_000_000
"""Points times facets that are looked at to tell a crossing from a touch; the deepest meetings come first."""


def crossing_place(vertices: Floats, faces: Indices, removed: Indices, mesh: Mesh, file: str) -> Floats | None:
    """A place (3,) mm at which a surface runs through itself, None where it does not.

    ``faces`` (m, 3) over ``vertices`` (n, 3) mm is the surface that stays, ``removed`` (r, 3) what a repair left out
    of it, ``mesh`` the same surface facing outwards. Raises InputError, with a place, where that was more than nothing.
    """
    removed = _off_the_surface(removed, faces)
    found = meetings(vertices, np.concatenate([faces, removed]))
    low, high = found.pairs.T
    cut = high[(low < len(faces)) & (high >= len(faces))] - len(faces)
    _require_nothing_lost(vertices[removed], cut, mesh, file)
    own = high < len(faces)
    return _crossing(vertices, faces, Meetings(*(part[own] for part in found)))


def crosses_itself(mesh: Mesh) -> bool:
    """Whether a shell of ``mesh`` runs through itself, deeper than rounding."""
    return _crossing(mesh.vertices, mesh.faces, meetings(mesh.vertices, mesh.faces)) is not None


def _off_the_surface(removed: Indices, faces: Indices) -> Indices:
    """Those of ``removed`` that do not lie on ``faces``: on the same corners as one, or along an edge of one."""
    if not len(removed):
        return removed
    whole = set(map(tuple, np.sort(faces, axis=1).tolist()))
    edges = set(map(tuple, np.sort(faces[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1).tolist()))
    off = []
    for corners in sorted({tuple(sorted(set(each))) for each in removed.tolist()}):
        if len(corners) == 3 and corners not in whole:
            off.append(corners)
        elif len(corners) == 2 and corners not in edges:
            off.append((*corners, corners[0]))
    return np.array(off, dtype=np.int64).reshape(-1, 3)


def _require_nothing_lost(removed: Floats, cut: Indices, mesh: Mesh, file: str) -> None:
    """Refuse where facets ``removed`` (r, 3, 3) mm do not lie wholly in the solid ``mesh``.

    A facet that meets none of the surface lies on one side of it as a whole, so that its middle tells which;
    ``cut`` are the numbers of those that meet some.
    """
    lost = ~contains(mesh, removed.mean(axis=1))
    lost[cut] = True
    if lost.any():
        place = removed[np.flatnonzero(lost)[0]].mean(axis=0)
        message = f"has {int(lost.sum())} facets of a sheet or wire without thickness, one at ({xyz_text(place)}) mm"
        hint = (
            "draw it as thick as it is (a file in single precision keeps about 7 digits) or delete it, and export again"
        )
        raise InputError(Fault(message, file=file, hint=hint))


def _crossing(vertices: Floats, faces: Indices, found: Meetings) -> Floats | None:
    """A place (3,) at which a shell runs through itself; None if facets only touch or belong to several bodies.

    In the wedges between two surfaces that cross the winding number takes three values; round a shell that only
    touches itself it is that of its inside or of its outside.
    """
    shell = labels_of(len(faces), edges_of(faces).pairs // 3)
    same = np.flatnonzero(shell[found.pairs[:, 0]] == shell[found.pairs[:, 1]])
    same = same[np.argsort(-found.depths[same], kind="stable")]
    least = max(_TOLERANCE, _ROUNDING * float(np.abs(vertices).max()))
    left = _WORK
    for k in same:
        own = Mesh(vertices, faces[shell == shell[found.pairs[k, 0]]])
        left -= 16 * len(own.faces)
        if left < 0:
            break
        points = found.points[k] + _wedges(vertices[faces[found.pairs[k]]], least, float(found.depths[k]))
        number = np.rint(winding_number(points, own))
        if number.max() - number.min() > 1:
            place: Floats = found.points[k]
            return place
    return None


def _wedges(pair: Floats, least: float, depth: float) -> Floats:
    """Steps (16, 3) mm from where two facets ``pair`` (2, 3, 3) meet into the four wedges between their planes.

    They lead off both planes, and along the line in which these meet: the place may be where a third facet begins.
    """
    normals = np.cross(pair[:, 1] - pair[:, 0], pair[:, 2] - pair[:, 0])
    one, other = normals / np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-300)
    line = np.cross(one, other)
    along = line / max(float(np.linalg.norm(line)), 1e-300)
    steps = []
    for far, way in itertools.product((2 * least, max(4 * least, depth / 4)), (1, -1)):
        middle = np.cross(one, line) + way * np.cross(other, line)
        off = max(min(abs(float(middle @ one)), abs(float(middle @ other))), 1e-12)
        steps += [far * (sign * middle / off + ahead * along) for sign in (1, -1) for ahead in (1, -1)]
    return np.array(steps)


def xyz_text(place: Floats) -> str:
    """A place (3,) mm in words."""
    return ", ".join(f"{value:z.6g}" for value in place)
