"""The road: the plane that three tyres, or tyres and points, stand on; at postures, and as Taylor models over cells.

A tyre is a ring of round section (a torus) with spin axis ``a``, centre ``c``, ring radius ``R`` and crown radius
``r``. Of a plane with the upward normal ``m`` of any length it touches in the point

    p(m) = c - R (m - (a · m) a) / |m - (a · m) a| - r m / |m|,

its lowest. Three bodies stand on the plane where ``m · p_i(m)`` is the same for all. The derivative of ``m · p(m)`` is
``p(m)`` itself, so a step of Newton's method is the plane through the three lowest points of the plane before. Convex
bodies that no line passes through together have one such plane below them and one above; where a line may
(``transversals.py``), or the plane is not below, there is no road.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from assembly.geometry.mesh import Flags, Floats
from assembly.geometry.rotations import cross
from assembly.kinematics.frames import Frames
from assembly.kinematics.rows.base import dot
from assembly.kinematics.taylor import Taylor, inner_product, inverse, size_of
from assembly.kinematics.transversals import Ring, no_line_through

MOST_STEPS = 60
SETTLED = 1e-13
"""A step that turns the normal by less is the last."""
LEAST_BREADTH = 1.0
"""mm: three contacts no farther from one line than this say no plane."""
MISS = 1e-7
"""mm: by which a tyre may miss the plane that is found."""
ORDERS = 2
"""Steps with the derivative at the centre, each of which makes one more order exact: the first and the second."""
INFLATION = (1.25, 3.0)
"""How much wider than the first guess a rest may be to be proven."""


@dataclass(frozen=True, slots=True, eq=False)
class Support:
    """What stands on the road, of ``body``, drawn at ``centre`` mm: a tyre with ``spin``, or a point with neither."""

    body: int
    centre: Floats
    spin: Floats | None = None
    ring: float = 0.0
    crown: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class RoadPlane:
    """The road: its upward unit ``normal``, and ``height``, so that points ``x`` of it have ``normal · x = height``.

    ``contacts``: where each support touches it, in their order; of a stated plane, the lowest points over it.
    """

    normal: Taylor
    height: Taylor
    contacts: tuple[Taylor, ...]


def road_plane(supports: Sequence[Support], frames: Frames, up: Taylor) -> RoadPlane:
    """The plane that three ``supports`` stand on, below them by the unit ``up``; NaN and unbounded if there is none."""
    placed = [_placed(one, frames) for one in supports]
    normal = _settled(placed, up.value)
    only = no_line_through([one.ringed for one in placed], normal)
    normal = np.where(only[:, None], normal, np.nan)
    known: Flags = only & np.isfinite(normal[:, 0])
    m = _constant(frames, normal)
    if frames.half.shape[1]:
        tilt, proven = _with_motion(placed, frames, normal)
        m, known = _tilted(frames, _basis(normal), tilt), known & proven
        above = inner_product(m, up)
        known &= above.value > above.reach
    lost = np.where(known, 0.0, np.inf)
    contacts = tuple(one.lowest(m) for one in placed)
    unit_normal = _unit(m)
    height = inner_product(unit_normal, contacts[0])
    held = tuple(_widened(one, lost) for one in contacts)
    return RoadPlane(_widened(unit_normal, lost), _widened(height, lost), held)


def stated_plane(normal: Taylor, at: Taylor, supports: Sequence[Support], frames: Frames) -> RoadPlane:
    """A plane through ``at`` whose unit ``normal`` is known, and where each support is lowest over it."""
    return RoadPlane(normal, inner_product(normal, at), tuple(lowest_point(one, frames, normal) for one in supports))


def lowest_point(support: Support, frames: Frames, m: Taylor) -> Taylor:
    """The point of ``support`` that lies lowest by the upward normal ``m`` of any length."""
    return _placed(support, frames).lowest(m)


@dataclass(frozen=True, slots=True, eq=False)
class _Placed:
    """A support in its frames: its centre, and its spin unless it is a point."""

    support: Support
    centre: Taylor
    spin: Taylor | None

    @property
    def ringed(self) -> Ring:
        """The same as a ring."""
        return Ring(self.centre, self.spin, self.support.ring, self.support.crown)

    def lowest(self, m: Taylor) -> Taylor:
        """Its lowest point by the upward normal ``m`` of any length."""
        if self.spin is None:
            return self.centre
        down = m - scaled(self.spin, inner_product(self.spin, m))
        return self.centre - _unit(down, self.support.ring) - _unit(m, self.support.crown)

    def lowest_at(self, normal: Floats) -> Floats:
        """The same (N, 3) at the cells' centres by the unit ``normal`` (N, 3)."""
        if self.spin is None:
            return self.centre.value
        a = self.spin.value
        down = _unit_rows(normal - dot(a, normal)[:, None] * a)
        return np.asarray(self.centre.value - self.support.ring * down - self.support.crown * normal)


def _placed(support: Support, frames: Frames) -> _Placed:
    spin = None if support.spin is None else frames.direction(support.body, support.spin)
    return _Placed(support, frames.point(support.body, support.centre), spin)


def scaled(vector: Taylor, factor: Taylor) -> Taylor:
    """A vector times a number."""
    return vector * along_components(factor)


def along_components(number: Taylor) -> Taylor:
    """A number as a vector of three that are alike."""
    first, second = (np.repeat(each[..., None], 3, axis=-1) for each in (number.first, number.second))
    value, rest = (np.repeat(each[..., None], 3, axis=-1) for each in (number.value, number.rest))
    return Taylor(value, first, second, rest, number.half)


def _unit(vector: Taylor, length: float = 1.0) -> Taylor:
    return scaled(vector, inverse(size_of(vector)).times(length))


def _settled(placed: Sequence[_Placed], up: Floats) -> Floats:
    """The unit normals (N, 3) of the planes, by Newton's method from ``up``; NaN where it finds none."""
    normal = np.array(np.broadcast_to(up, placed[0].centre.value.shape), dtype=np.float64)
    active = np.ones(len(normal), dtype=bool)
    with np.errstate(divide="ignore", invalid="ignore"):
        for _ in range(MOST_STEPS):
            points = np.stack([one.lowest_at(normal) for one in placed], axis=1)
            square = cross(points[:, 1] - points[:, 0], points[:, 2] - points[:, 0])
            square = square * np.sign(dot(square, normal))[:, None]
            broad = np.linalg.norm(square, axis=1) > LEAST_BREADTH * np.ptp(points, axis=1).max(axis=1)
            found = np.where(broad[:, None], _unit_rows(square), np.nan)
            moved = np.linalg.norm(found - normal, axis=1)
            normal = np.where(active[:, None], found, normal)
            active &= moved > SETTLED
            if not active.any():
                break
        heights = np.stack([dot(one.lowest_at(normal), normal) for one in placed], axis=1)
        good = (np.ptp(heights, axis=1) < MISS) & (dot(normal, up) > 0)
    return np.where(good[:, None], normal, np.nan)


def _unit_rows(vectors: Floats) -> Floats:
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(vectors / np.linalg.norm(vectors, axis=1)[:, None])


def _basis(normal: Floats) -> Floats:
    """(N, 3, 3): each normal and two unit vectors square to it."""
    aside = np.where(np.abs(normal[:, :1]) < 0.9, [[1.0, 0.0, 0.0]], [[0.0, 1.0, 0.0]])
    first = _unit_rows(aside - dot(aside, normal)[:, None] * normal)
    return np.stack([normal, first, cross(normal, first)], axis=1)


def _constant(frames: Frames, value: Floats) -> Taylor:
    """A number or vector (N, ...) that does not change in a cell."""
    count, drives = frames.half.shape
    shape = value.shape[1:]
    first, second = np.zeros((count, drives, *shape)), np.zeros((count, drives, drives, *shape))
    return Taylor(value, first, second, np.zeros(value.shape), frames.half)


def _tilted(frames: Frames, basis: Floats, tilt: Sequence[Taylor]) -> Taylor:
    """The normal at each centre, tilted by two numbers along the other two vectors of the basis."""
    first, second = (scaled(_constant(frames, basis[:, 1 + k]), tilt[k]) for k in range(2))
    return _constant(frames, basis[:, 0]) + first + second


def _misses(placed: Sequence[_Placed], m: Taylor) -> list[Taylor]:
    """How much higher the second and third support are than the first by ``m``."""
    points = [one.lowest(m) for one in placed]
    return [inner_product(m, one - points[0]) for one in points[1:]]


def _with_motion(placed: Sequence[_Placed], frames: Frames, normal: Floats) -> tuple[list[Taylor], Flags]:
    """The tilt as Taylor models through each cell, and whether (N,) its rest is proven.

    The polynomial follows from steps of Newton's method with the derivative at the centre. What it leaves out is held
    by the test of Krawczyk: with A the inverse of that derivative, D that in the box, and b the miss that is left,
    |A b| + |1 - A D| rest <= rest componentwise proves that the one tilt in the box is nearer than ``rest``.
    """
    basis = _basis(normal)
    tilt = [_constant(frames, np.where(np.isfinite(normal[:, 0]), 0.0, np.nan)) for _ in range(2)]
    at_centre = [one.lowest_at(normal) for one in placed]
    apart = np.stack([one - at_centre[0] for one in at_centre[1:]], axis=1)
    inverted = _inverted(np.einsum("nkj,nrj->nrk", basis[:, 1:], apart))
    for _ in range(ORDERS):
        tilt = [_bare(one) for one in _less(tilt, inverted, _misses(placed, _tilted(frames, basis, tilt)))]
    missed = _misses(placed, _tilted(frames, basis, tilt))
    size = np.stack([np.abs(one.value) + one.reach for one in missed], axis=1)
    off = np.asarray(np.einsum("nij,nj->ni", np.abs(inverted), size))
    rest, known = np.full(off.shape, np.inf), np.zeros(len(off), dtype=bool)
    for wider in INFLATION:
        tried = wider * off
        box = _tilted(frames, basis, [replace(one, rest=tried[:, k]) for k, one in enumerate(tilt)])
        slopes = _slopes(basis, [one.lowest(box) for one in placed])
        with np.errstate(invalid="ignore"):
            held = off + _contracted(inverted, slopes, tried)
            proven = (held <= tried).all(axis=1) & ~known & np.isfinite(tried).all(axis=1)
        rest, known = np.where(proven[:, None], tried, rest), known | proven
        if known.all():
            break
    return [replace(one, rest=rest[:, k]) for k, one in enumerate(tilt)], known


def _slopes(basis: Floats, points: Sequence[Taylor]) -> Taylor:
    """(N, 2, 2): derivative of the two misses over the two tilts, with how far it may go in the cell as its rest."""
    value = np.zeros((len(basis), 2, 2))
    rest = np.zeros_like(value)
    for row, one in enumerate(points[1:]):
        apart = one - points[0]
        value[:, row] = np.einsum("nkj,nj->nk", basis[:, 1:], apart.value)
        rest[:, row] = np.einsum("nkj,nj->nk", np.abs(basis[:, 1:]), apart.reach)
    count, drives = apart.half.shape
    none, nothing = np.zeros((count, drives, 2, 2)), np.zeros((count, drives, drives, 2, 2))
    return Taylor(value, none, nothing, rest, apart.half)


def _inverted(matrix: Floats) -> Floats:
    """The inverse (N, 2, 2); NaN where there is none."""
    (a, b), (c, d) = np.moveaxis(matrix, 0, -1)
    with np.errstate(divide="ignore", invalid="ignore"):
        inverted = np.moveaxis(np.array([[d, -b], [-c, a]]), -1, 0) / (a * d - b * c)[:, None, None]
    return np.asarray(inverted)


def _contracted(inverted: Floats, slopes: Taylor, rest: Floats) -> Floats:
    """|1 - A D| rest (N, 2)."""
    centre = np.abs(np.eye(2) - inverted @ slopes.value)
    return np.asarray(np.einsum("nij,nj->ni", centre + np.abs(inverted) @ slopes.rest, rest))


def _less(tilt: Sequence[Taylor], inverted: Floats, missed: Sequence[Taylor]) -> list[Taylor]:
    """The tilt less A times the miss."""
    return [tilt[k] - (missed[0].times(inverted[:, k, 0]) + missed[1].times(inverted[:, k, 1])) for k in range(2)]


def _bare(one: Taylor) -> Taylor:
    return replace(one, rest=np.zeros_like(one.rest))


def _widened(one: Taylor, lost: Floats) -> Taylor:
    return replace(one, rest=one.rest + lost.reshape(-1, *(1,) * (one.rest.ndim - 1)))
