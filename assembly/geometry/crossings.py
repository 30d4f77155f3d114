"""Faults of a surface that its edges do not show: a shell that runs through itself, and sheets that no solid holds."""

from __future__ import annotations

import itertools

import numpy as np

from assembly.errors import Fault, InputError
from assembly.geometry.facet_pairs import Meetings, meetings
from assembly.geometry.inside import contains, winding_number
from assembly.geometry.mesh import Floats, Indices, Mesh
from assembly.geometry.shells import edges_of, labels_of

_TOLERANCE = 1e-5
"""mm by which a shell may run through itself: what rounding of a file leaves, below what is measured."""
_ROUNDING = 2.0**-20
"""The same relative to the largest coordinate, for files in single precision: eight steps."""
_WORK = 200_000_000
"""Points times facets that are looked at to tell a crossing from a touch; the deepest meetings come first."""


def require_sound(vertices: Floats, faces: Indices, removed: Indices, mesh: Mesh, file: str) -> None:
    """Refuse a surface that runs through itself, and one of which more than nothing was taken away.

    ``faces`` (m, 3) over ``vertices`` (n, 3) mm is the surface that stays, ``removed`` (r, 3) what a repair left out
    of it, ``mesh`` the same surface facing outwards. Raises InputError that names a place.
    """
    removed = _off_the_surface(removed, faces)
    found = meetings(vertices, np.concatenate([faces, removed]))
    low, high = found.pairs.T
    cut = high[(low < len(faces)) & (high >= len(faces))] - len(faces)
    _require_nothing_lost(vertices[removed], cut, mesh, file)
    own = high < len(faces)
    place = _crossing(vertices, faces, Meetings(*(part[own] for part in found)))
    if place is not None:
        message = f"runs through itself: two of its faces cross at ({_text(place)}) mm"
        hint = "no solid has such a surface: unite its bodies or redraw that place, and export it again"
        raise InputError(Fault(message, file=file, hint=hint))


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
        message = f"has {int(lost.sum())} facets of a sheet or wire without thickness, one at ({_text(place)}) mm"
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


def _text(place: Floats) -> str:
    return ", ".join(f"{value:z.6g}" for value in place)
