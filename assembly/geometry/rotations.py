"""Rotations as stacks of 3×3 matrices; rotation vectors point along the axis, right-handed, their length in radians."""

from __future__ import annotations

from math import sqrt

import numpy as np
from numpy.typing import ArrayLike

from assembly.geometry.mesh import Floats


def skew(vectors: Floats) -> Floats:
    """Cross-product matrices of ``vectors`` (..., 3): ``skew(a) @ b == cross(a, b)``; returns (..., 3, 3)."""
    x, y, z = vectors[..., 0], vectors[..., 1], vectors[..., 2]
    matrices = np.zeros((*vectors.shape, 3))
    matrices[..., 0, 1], matrices[..., 0, 2] = -z, y
    matrices[..., 1, 0], matrices[..., 1, 2] = z, -x
    matrices[..., 2, 0], matrices[..., 2, 1] = -y, x
    return matrices


def cross(a: Floats, b: Floats) -> Floats:
    """Cross products of ``a`` (..., 3) and ``b`` (..., 3), broadcast against each other; returns (..., 3).

    Rounded as ``np.cross`` rounds them, which moves axes about for longer than a few products take. Of two single
    vectors it is written out in plain numbers, for arrays of one number each cost more than the products.
    """
    if a.ndim == b.ndim == 1:
        return np.array(_cross_of_numbers(*a.tolist(), *b.tolist()))
    ax, ay, az = a[..., 0], a[..., 1], a[..., 2]
    bx, by, bz = b[..., 0], b[..., 1], b[..., 2]
    x = ay * bz - az * by
    product = np.empty((*x.shape, 3))
    product[..., 0] = x
    product[..., 1] = az * bx - ax * bz
    product[..., 2] = ax * by - ay * bx
    return product


def _cross_of_numbers(ax: float, ay: float, az: float, bx: float, by: float, bz: float) -> tuple[float, float, float]:
    return ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx


def inner(a: Floats, b: Floats) -> Floats:
    """Inner products (...) of ``a`` (..., 3) and ``b`` (..., 3), broadcast against each other.

    Rounded as a sum over the last axis, which takes many times as long where that has three numbers.
    """
    return np.asarray(a[..., 0] * b[..., 0] + a[..., 1] * b[..., 1] + a[..., 2] * b[..., 2])


def lengths(vectors: Floats, axis: int = -1) -> Floats:
    """Lengths (...) of ``vectors`` (..., 3); ``axis`` is the one that holds their three parts, counted from the front.

    Rounded as the root of a sum of squares over that axis.
    """
    before = (slice(None),) * axis if axis >= 0 else (...,)
    x, y, z = (vectors[(*before, k)] for k in range(3))
    return np.asarray(np.sqrt(x * x + y * y + z * z))


def rotation_from_vector(vectors: Floats) -> Floats:
    """Rotation matrices (..., 3, 3) of rotation vectors (..., 3) rad (Rodrigues' formula)."""
    angle = lengths(vectors)[..., None, None]
    small = angle < 1e-6
    safe = np.where(small, 1.0, angle)
    sine = np.where(small, 1 - angle**2 / 6, np.sin(safe) / safe)
    half = np.where(small, 1.0, np.sin(safe / 2) / (safe / 2))
    K = skew(vectors)
    return np.asarray(np.eye(3) + sine * K + 0.5 * half**2 * (K @ K))


def sine_vector(rotations: Floats) -> Floats:
    """Axis times sine of the angle (..., 3) of each rotation (..., 3, 3): the vector of its skew part."""
    R = rotations
    return 0.5 * np.stack(
        [R[..., 2, 1] - R[..., 1, 2], R[..., 0, 2] - R[..., 2, 0], R[..., 1, 0] - R[..., 0, 1]], axis=-1
    )


def angle_of(rotations: Floats) -> Floats:
    """Angle (...) rad, 0 to π, of each rotation (..., 3, 3); accurate at both ends."""
    cosine = (np.trace(rotations, axis1=-2, axis2=-1) - 1) / 2
    return np.asarray(np.arctan2(np.linalg.norm(sine_vector(rotations), axis=-1), cosine))


def rotation_about_axes(degrees: ArrayLike) -> Floats:
    """Rotation (3, 3) that turns by ``degrees`` (3,) about the fixed x axis, then y, then z."""
    x, y, z = np.deg2rad(np.asarray(degrees, dtype=np.float64))
    turn = [rotation_from_vector(np.asarray(vector)) for vector in ((x, 0.0, 0.0), (0.0, y, 0.0), (0.0, 0.0, z))]
    return turn[2] @ turn[1] @ turn[0]


def unit(vector: ArrayLike) -> Floats:
    """The direction (3,) of ``vector``, which must not be zero."""
    array = np.asarray(vector, dtype=np.float64)
    return array / length(array)


def length(vector: Floats) -> float:
    """Length of one ``vector`` (3,); rounded as ``np.linalg.norm`` rounds it, in a fraction of its time."""
    return sqrt(vector.dot(vector))


def across(direction: ArrayLike) -> tuple[Floats, Floats]:
    """Two unit vectors (3,) that are square to the unit ``direction`` and to each other; right-handed in this order."""
    d = np.asarray(direction, dtype=np.float64)
    helper = np.zeros(3)
    helper[int(np.abs(d).argmin())] = 1.0
    first = unit(cross(helper, d))
    return first, cross(d, first)


def pose_matrix(rotation: Floats | None = None, shift: ArrayLike = (0.0, 0.0, 0.0)) -> Floats:
    """The transform (4, 4) that turns by ``rotation`` (3, 3) about the origin, then shifts."""
    world_from_part = np.eye(4)
    if rotation is not None:
        world_from_part[:3, :3] = rotation
    world_from_part[:3, 3] = shift
    return world_from_part


def inverse_rigid(transforms: Floats) -> Floats:
    """Inverses (..., 4, 4) of transforms that turn and shift."""
    inverse = np.zeros_like(transforms)
    inverse[..., :3, :3] = np.swapaxes(transforms[..., :3, :3], -1, -2)
    inverse[..., :3, 3] = -(inverse[..., :3, :3] @ transforms[..., :3, 3:])[..., 0]
    inverse[..., 3, 3] = 1.0
    return inverse
