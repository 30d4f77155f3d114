"""Two solids that claim one place: how deep, which shapes, how much and where.

The depth is that of the two shapes, one of each solid, that stand deepest in each other: the shortest straight shift in
any direction that takes the one out of the other. Of convex shapes it is exact (``penetration``); of others it is the
shortest that was found by trying (``way_out``), never more than that of their hulls. Volume and shape come from exact
booleans.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assembly.clearance.narrow_phase.distance import CollisionModel, meets
from assembly.clearance.narrow_phase.pair_result import Overlap, Setting
from assembly.clearance.narrow_phase.penetration import penetration
from assembly.clearance.narrow_phase.separating_shift import Placed, way_out
from assembly.errors import ShapeError
from assembly.geometry.inside import contains
from assembly.geometry.mesh import Floats, Mesh
from assembly.geometry.solids import intersection

TOUCH = 1e-6
"""mm: shapes this little apart or in each other touch."""
PRESSED = 1e-3
"""mm by which two that touch are pressed together to see where."""
WHOLE = 1e-6
"""Share of its volume that a shape may miss and still lie wholly inside another."""
STEPS_INWARD = 12


@dataclass(frozen=True, slots=True, eq=False)
class ShapesDeep:
    """The shapes numbered ``a`` and ``b`` of two solids: moving b by ``depth`` mm along ``way`` (world) frees them."""

    a: int
    b: int
    depth: float
    way: Floats


def overlap_at(
    a: CollisionModel, b: CollisionModel, world_from_a: Floats, world_from_b: Floats, at: Setting
) -> Overlap:
    """The overlap of ``a`` and ``b`` at one posture, with the shortest way out of the shapes that stand deepest."""
    shared = _shared(a.solid.mesh, b.solid.mesh, world_from_a, world_from_b)
    found = deepest_shapes(a, b, world_from_a, world_from_b)
    if found is None:
        return Overlap(at, 0.0, (0.0, 0.0, 1.0), max(shared.volume, 0.0), _point(world_from_b[:3, 3]), shared)
    first, second = a.pieces[found.a].solid, b.pieces[found.b].solid
    pressed = world_from_b.copy()
    pressed[:3, 3] -= max(PRESSED - found.depth, 0.0) * found.way
    common = _shared(first.mesh, second.mesh, world_from_a, pressed)
    inside = [side for side, solid in (("a", first), ("b", second)) if _holds_all(common, solid.mesh)]
    return Overlap(
        at=at,
        depth=found.depth,
        direction=_point(found.way),
        volume=max(shared.volume, 0.0),
        where=_point(_place_in(common) if len(common.faces) else world_from_b[:3, 3]),
        solid=shared,
        shape_a=first.shapes[0],
        shape_b=second.shapes[0],
        inside=inside[0] if inside else "",
    )


def deepest_shapes(
    a: CollisionModel, b: CollisionModel, world_from_a: Floats, world_from_b: Floats
) -> ShapesDeep | None:
    """Those that stand deepest in each other; None where no two even touch."""
    best: ShapesDeep | None = None
    for i, j in _near(a, b, world_from_a, world_from_b):
        own = shapes_deep(a.pieces[i], b.pieces[j], world_from_a, world_from_b, -1.0 if best is None else best.depth)
        if own is not None:
            best = ShapesDeep(i, j, *own)
    return best


def shapes_deep(
    a: CollisionModel, b: CollisionModel, world_from_a: Floats, world_from_b: Floats, beyond: float = -1.0
) -> tuple[float, Floats] | None:
    """How deep two shapes stand in each other, mm, and the way out; None where it is not ``beyond`` that."""
    hulls = penetration(placed(a.corners, world_from_a), placed(b.corners, world_from_b))
    if hulls.depth < -TOUCH or hulls.depth <= beyond:
        return None
    if a.convex and b.convex:
        return max(hulls.depth, 0.0), hulls.way
    if not meets(a, b, world_from_a, world_from_b):
        return None
    shared = _shared(a.solid.mesh, b.solid.mesh, world_from_a, world_from_b)
    if shared.volume <= 0:
        return (0.0, hulls.way) if beyond < 0 else None
    depth, way = way_out(Placed(a, b, world_from_a, world_from_b), shared, hulls.depth, hulls.way)
    return (depth, way) if depth > beyond else None


def placed(points: Floats, world_from_rest: Floats) -> Floats:
    """Points (k, 3) drawn at rest, where their part stands."""
    return np.asarray(points @ world_from_rest[:3, :3].T + world_from_rest[:3, 3])


def _near(a: CollisionModel, b: CollisionModel, world_from_a: Floats, world_from_b: Floats) -> list[tuple[int, int]]:
    """Numbers of the shapes whose boxes touch."""
    first, second = (
        np.array(
            [[points.min(axis=0), points.max(axis=0)] for points in (placed(p.corners, place) for p in each.pieces)]
        )
        for each, place in ((a, world_from_a), (b, world_from_b))
    )
    apart = np.maximum(first[:, None, 0] - second[None, :, 1], second[None, :, 0] - first[:, None, 1]).max(axis=2)
    return [(int(i), int(j)) for i, j in np.argwhere(apart <= TOUCH)]


def _box(points: Floats) -> Floats:
    return np.array([points.min(axis=0), points.max(axis=0)])


def _shared(first: Mesh, second: Mesh, world_from_a: Floats, world_from_b: Floats) -> Mesh:
    """What both claim, in the world; nothing where rounding lets no solid be made of it: the depth does not need it."""
    try:
        solid = intersection(_bare(first, world_from_a), _bare(second, world_from_b))
    except ShapeError:
        return Mesh(np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64))
    return solid


def _bare(mesh: Mesh, world_from_rest: Floats) -> Mesh:
    """The facets alone: what two solids share is shown, and needs no error of its edges."""
    return Mesh(placed(mesh.vertices, world_from_rest), mesh.faces)


def _holds_all(common: Mesh, shape: Mesh) -> bool:
    return len(common.faces) > 0 and abs(common.volume - shape.volume) <= WHOLE * shape.volume


def _place_in(solid: Mesh) -> Floats:
    """A place inside: the middle of its corners, or behind its largest facet where that lies outside."""
    middle = solid.vertices.mean(axis=0)
    if contains(solid, middle)[0]:
        return np.asarray(middle)
    corners = solid.vertices[solid.faces]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.linalg.norm(normals, axis=1)
    row = int(np.argmax(size))
    steps = float(np.ptp(solid.vertices, axis=0).max()) * 0.5 ** np.arange(1, STEPS_INWARD)
    places = corners[row].mean(axis=0) - steps[:, None] * normals[row] / max(size[row], 1e-300)
    inside = contains(solid, places)
    return np.asarray(places[int(np.argmax(inside))] if inside.any() else middle)


def _point(values: Floats) -> Setting:
    return tuple(float(value) for value in values)
