"""Rotations as unit quaternions (x, y, z, w): four numbers that can be mixed and written down."""

from __future__ import annotations

import numpy as np
from scipy.spatial.transform import Rotation

from assembly.geometry.mesh import Floats


def quaternions(rotations: Floats) -> Floats:
    """Unit quaternions (..., 4) of rotation matrices (..., 3, 3), the last number never below 0."""
    found = Rotation.from_matrix(rotations.reshape(-1, 3, 3)).as_quat()
    return np.asarray(np.where(found[:, 3:] < 0, -found, found).reshape(*rotations.shape[:-2], 4))


def rotations_of(quaternions: Floats) -> Floats:
    """Rotation matrices (..., 3, 3) of unit quaternions (..., 4)."""
    found = Rotation.from_quat(quaternions.reshape(-1, 4)).as_matrix()
    return np.asarray(found.reshape(*quaternions.shape[:-1], 3, 3))


def mixed(corners: Floats, shares: Floats) -> Floats:
    """Unit quaternions (..., 4) between ``corners`` (C, ..., 4), ``shares`` (C, ...) of each, which add up to 1.

    A quaternion and its negative are the same turn: each corner is taken with the sign that is nearer to the first.
    """
    alike = np.where((corners * corners[0]).sum(axis=-1, keepdims=True) < 0, -1.0, 1.0)
    total = (shares[..., None] * alike * corners).sum(axis=0)
    return np.asarray(total / np.linalg.norm(total, axis=-1, keepdims=True))
