"""How near two solids are at one posture. The only door to FCL, and the place that knows its traps.

FCL is asked for unsigned distances of closed triangle meshes only; overlap reads as 0 there. A solid that
lies wholly inside another has a positive surface distance, so that is tested apart (``contained``).
"""

from __future__ import annotations

import threading
import weakref
from collections import OrderedDict
from dataclasses import dataclass, replace
from functools import cached_property

import fcl
import numpy as np
from numpy.typing import NDArray

from assembly.clearance.narrow_phase.bounding_balls import hull_corners, is_convex
from assembly.clearance.narrow_phase.checked_pairs import Solid
from assembly.errors import InputError
from assembly.geometry.inside import contains
from assembly.geometry.mesh import Floats, Mesh
from assembly.geometry.rotations import inverse_rigid
from assembly.geometry.shells import components
from assembly.time_limit import check_time
from assembly.working_memory import own_share

QUERY_TOLERANCE = 1e-6
"""mm taken off every measured distance: far above the error of FCL's mesh distance at machine sizes (1e-10)."""


@dataclass(frozen=True, slots=True, eq=False)
class Nearest:
    """Result of one query: distance in mm, nearest points in the world (3,), and the triangle each lies on."""

    distance: float
    point_a: Floats
    point_b: Floats
    face_a: int
    face_b: int


TREES_BYTES = 750 * 10**6
"""That trees of bounding volumes may take, in all processes together; those used last are kept, and any two at least.

The larger of the demos needs a tenth of it. A tree that is let go is made again when it is next asked for, the same."""
BYTES_A_TRIANGLE = 610
"""Of a tree (measured)."""


class _Trees:
    """The trees that this process keeps, by the identity of their models, the one used last at the end.

    Models may be used, and come to their end, in any thread.
    """

    def __init__(self) -> None:
        self._kept: OrderedDict[int, tuple[fcl.CollisionObject, int]] = OrderedDict()
        self._held = 0
        self._lock = threading.RLock()

    def of(self, model: CollisionModel) -> fcl.CollisionObject:
        """The tree of a model, made if it is not kept."""
        with self._lock:
            kept = self._kept.get(id(model))
            if kept is not None:
                self._kept.move_to_end(id(model))
                return kept[0]
            tree, size = model.tree(), BYTES_A_TRIANGLE * len(model.solid.mesh.faces)
            self._kept[id(model)] = tree, size
            self._held += size
            while self._held > own_share(TREES_BYTES) and len(self._kept) > 2:
                self.forget(next(iter(self._kept)))
            return tree

    def forget(self, number: int) -> None:
        """Let a tree go."""
        with self._lock:
            self._held -= self._kept.pop(number, (None, 0))[1]


_TREES = _Trees()


class CollisionModel:
    """A solid made ready for distance queries, when it is first asked: bounding volumes, and points of each shell."""

    def __init__(self, solid: Solid) -> None:
        mesh = solid.mesh
        if not len(mesh.faces) or not np.isfinite(mesh.vertices).all():
            raise InputError("a solid without triangles, or with vertices that are no numbers, cannot be measured")
        self.solid = solid
        weakref.finalize(self, _TREES.forget, id(self)).atexit = False

    @cached_property
    def middle(self) -> Floats:
        """A place (3,) in whole mm about which the solid is measured, so that no large coordinates come into it."""
        return np.asarray(np.rint(self.solid.mesh.bounds.mean(axis=0)))

    @property
    def body(self) -> fcl.CollisionObject:
        """The solid about its middle, with its tree of bounding volumes."""
        return _TREES.of(self)

    def tree(self) -> fcl.CollisionObject:
        """As ``body``, made anew."""
        mesh, model = self.solid.mesh, fcl.BVHModel()
        model.beginModel(len(mesh.vertices), len(mesh.faces))
        model.addSubModel(mesh.vertices - self.middle, mesh.faces)
        model.endModel()
        return fcl.CollisionObject(model)

    @cached_property
    def shells(self) -> list[Mesh]:
        """The closed surfaces that the solid is made of."""
        return components(self.solid.mesh)

    @cached_property
    def pieces(self) -> list[CollisionModel]:
        """Each of the solid's shapes, in their order; a solid of one shape is its own piece."""
        return [self] if len(self.solid.shapes) == 1 else [CollisionModel(piece) for piece in self.solid.pieces()]

    @cached_property
    def corners(self) -> Floats:
        """Corners (k, 3) mm of the convex hull, at rest."""
        return hull_corners(self.solid.mesh)

    @cached_property
    def convex(self) -> bool:
        """Whether the solid fills its hull, but for rounding."""
        return is_convex(self.solid.mesh)

    @cached_property
    def marks(self) -> Floats:
        """One vertex of each shell: with no contact, a shell lies wholly inside or wholly outside (shells, 3)."""
        return np.array([shell.vertices[shell.faces[0, 0]] for shell in self.shells])

    @cached_property
    def tips(self) -> Floats:
        """Six vertices of each shell that reach farthest (shells, 6, 3)."""
        return np.array([shell.vertices[_outermost(shell)] for shell in self.shells])

    def make_ready(self) -> None:
        """Do now what the first question would have to wait for."""
        _ = self.body

    def placed(self, pose: Floats) -> fcl.CollisionObject:
        """The solid, put about its middle where ``pose`` (4, 4) says."""
        body = self.body
        body.setTransform(fcl.Transform(pose[:3, :3], pose[:3, 3]))
        return body


_REQUEST, _STILL = fcl.DistanceRequest(enable_nearest_points=True), np.eye(4)


def about_middles(a: CollisionModel, b: CollisionModel, a_from_b: Floats) -> Floats:
    """Places (..., 4, 4) of the second solid, about its middle, as the first sees it from its own.

    However far from the origin both are drawn, this is as small as the solids and what lies between them.
    """
    near = a_from_b.copy()
    near[..., :3, 3] += a_from_b[..., :3, :3] @ b.middle - a.middle
    return near


def nearest_about(a: CollisionModel, b: CollisionModel, near: Floats) -> Nearest:
    """Distance between the surfaces, 0 where they meet, at a place (4, 4) of ``about_middles``; points as a sees them.

    The points count from a's middle.
    """
    check_time()
    result = fcl.DistanceResult()
    distance = fcl.distance(a.placed(_STILL), b.placed(near), _REQUEST, result)
    points = result.nearest_points
    return Nearest(max(0.0, float(distance)), np.array(points[0]), np.array(points[1]), int(result.b1), int(result.b2))


def nearest(a: CollisionModel, b: CollisionModel, world_from_a: Floats, world_from_b: Floats) -> Nearest:
    """Distance between the surfaces of two solids; 0 where they meet."""
    found = nearest_about(a, b, about_middles(a, b, inverse_rigid(world_from_a) @ world_from_b))
    point_a, point_b = (
        world_from_a[:3, :3] @ (point + a.middle) + world_from_a[:3, 3] for point in (found.point_a, found.point_b)
    )
    return replace(found, point_a=point_a, point_b=point_b)


def meets(a: CollisionModel, b: CollisionModel, world_from_a: Floats, world_from_b: Floats) -> bool:
    """Whether the two solids touch, overlap, or one holds a shell of the other."""
    return nearest(a, b, world_from_a, world_from_b).distance <= 0 or contained(a, b, world_from_a, world_from_b)


def contained(a: CollisionModel, b: CollisionModel, world_from_a: Floats, world_from_b: Floats) -> bool:
    """Whether a closed shell of one solid lies inside the other, given that their surfaces do not meet."""
    return bool(contained_at(a, b, (inverse_rigid(world_from_a) @ world_from_b)[None], np.zeros(1))[0])


def contained_at(a: CollisionModel, b: CollisionModel, a_from_b: Floats, apart: Floats) -> NDArray[np.bool_]:
    """The same (N,) at N places of b seen from a (N, 4, 4), their surfaces being ``apart`` (N,) mm at least."""
    return _holds(a, b, a_from_b, apart) | _holds(b, a, inverse_rigid(a_from_b), apart)


def _outermost(shell: Mesh) -> NDArray[np.intp]:
    used = np.unique(shell.faces)
    corners = shell.vertices[used]
    return np.asarray(used[np.concatenate([corners.argmin(axis=0), corners.argmax(axis=0)])])


def _holds(outer: CollisionModel, inner: CollisionModel, outer_from_inner: Floats, apart: Floats) -> NDArray[np.bool_]:
    """Whether (N,) a shell of ``inner`` lies inside ``outer`` at each of N places (N, 4, 4).

    A vertex lies on the same side of the surface as any other place that is nearer to it than the surface is.
    """
    low, high = outer.solid.mesh.bounds
    turn, shift = outer_from_inner[:, :3, :3].transpose(0, 2, 1), outer_from_inner[:, None, :3, 3]
    tips = inner.tips @ turn[:, None] + shift[:, None]
    place, shell = np.nonzero(((tips >= low) & (tips <= high)).all(axis=(2, 3)))
    marks, free = (inner.marks @ turn + shift)[place, shell], apart[place]
    held = np.zeros(len(outer_from_inner), dtype=bool)
    left = np.argsort(-free, kind="stable")
    while len(left):
        check_time()
        first = left[0]
        same = np.linalg.norm(marks[left] - marks[first], axis=1) < free[first]
        same[0] = True
        held[place[left[same]]] |= contains(outer.solid.mesh, marks[[first]])[0]
        left = left[~same]
    return held
