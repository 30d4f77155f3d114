"""Two solids that claim one place: how deep, which shapes, how much and where.

The depth is that of the two shapes, one of each solid, that stand deepest in each other: the shortest straight shift in
any direction that takes the one out of the other. Of convex shapes it is exact (``penetration``). Of others it is the
shortest that was found by trying, never more than that of their hulls: a few dozen directions are ranked by how far
what the two share reaches along them, and along the best of them the second solid is moved until a distance query and
an inside test both say that it is free. Volume and shape come from exact booleans.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assembly.clearance.narrow_phase.distance import CollisionModel, meets
from assembly.clearance.narrow_phase.pair_result import Overlap, Setting
from assembly.clearance.narrow_phase.penetration import penetration
from assembly.errors import ShapeError
from assembly.geometry.inside import contains
from assembly.geometry.mesh import Floats, Mesh
from assembly.geometry.rotations import across, unit
from assembly.geometry.solids import intersection

DIRECTIONS_TRIED = 10
AXES = 6
CLOSE_TOGETHER = 0.985
"""Cosine (10°) above which two directions count as one."""
FIRST_LEAN = 0.05
"""rad by which the best direction is leaned over to find a shorter way out."""
LEANS = 6
SPREAD_DIRECTIONS = 64
NORMALS_USED = 24
GROWTH = 1.25
PRECISION = 0.005
"""mm to which the way out is found, on the long side."""


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """Two solids where they stand: the way out is reported in the world."""

    a: CollisionModel
    b: CollisionModel
    world_from_a: Floats
    world_from_b: Floats

    def meeting(self, shift: Floats) -> bool:
        """Whether they meet once the second is moved by ``shift`` (3,) mm."""
        moved = self.world_from_b.copy()
        moved[:3, 3] += shift
        return meets(self.a, self.b, self.world_from_a, moved)


def way_out(placed: Placed, shared: Mesh, far: float, way: Floats) -> tuple[float, Floats]:
    """Depth in mm and direction. ``shared`` is what both claim; moving by ``far`` along ``way`` is known to free."""
    best = far
    for direction in _most_promising(_candidates(shared), shared):
        tried = _free_after(placed, direction, _extent(shared, direction), best)
        if tried < best:
            best, way = tried, direction
    lean = FIRST_LEAN
    for _ in range(LEANS):
        sideways = np.stack(across(way))
        tries = [unit(way + sign * lean * side) for side in sideways for sign in (1, -1)]
        found = [_free_after(placed, tried, 0.9 * best, best) for tried in tries]
        if min(found) < best:
            best, way = min(found), tries[int(np.argmin(found))]
        else:
            lean /= 3
    return best, way


def _extent(solid: Mesh, direction: Floats) -> float:
    return float(np.ptp(solid.vertices @ direction))


def _most_promising(directions: Floats, solid: Mesh) -> list[Floats]:
    """The axes, and of the others those along which the overlap is thinnest, no two of them close together."""
    chosen = list(directions[:AXES])
    extents = np.ptp(directions @ solid.vertices.T, axis=1)
    for index in np.argsort(extents, kind="stable"):
        if len(chosen) >= AXES + DIRECTIONS_TRIED:
            break
        if max(float(directions[index] @ other) for other in chosen) < CLOSE_TOGETHER:
            chosen.append(directions[index])
    return sorted(chosen, key=lambda direction: _extent(solid, direction))


def _free_after(placed: Placed, way: Floats, start: float, limit: float) -> float:
    """Smallest shift along ``way`` found to free the second; infinite where it would exceed ``limit``."""
    low, high = 0.0, max(start, PRECISION)
    while placed.meeting(high * way):
        low, high = high, GROWTH * high + PRECISION
        if low >= limit:
            return np.inf
    while high - low > PRECISION:
        middle = (low + high) / 2
        low, high = (middle, high) if placed.meeting(middle * way) else (low, middle)
    return high


def _candidates(solid: Mesh) -> Floats:
    """Directions worth trying (k, 3): the axes, the largest facets of the overlap, and an even spread."""
    a, b, c = (solid.vertices[solid.faces[:, k]] for k in range(3))
    normals = np.cross(b - a, c - a)
    size = np.linalg.norm(normals, axis=1)
    largest = np.argsort(-size, kind="stable")[: 8 * NORMALS_USED]
    units = normals[largest[size[largest] > 0]] / size[largest[size[largest] > 0], None]
    _, first = np.unique(units.round(2), axis=0, return_index=True)
    own = units[np.sort(first)[:NORMALS_USED]]
    k = np.arange(SPREAD_DIRECTIONS) + 0.5
    height, turn = 1 - 2 * k / SPREAD_DIRECTIONS, np.pi * (1 + 5**0.5) * k
    ring = np.sqrt(1 - height**2)
    spread = np.column_stack([ring * np.cos(turn), ring * np.sin(turn), height])
    axes = np.concatenate([np.eye(3), -np.eye(3)])
    return np.concatenate([axes, own, -own, spread])


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
