"""What of a surface lies within a box round a ball, and where it goes as the corners of its facets go."""

from __future__ import annotations

import numpy as np

from assembly.clearance.tolerances.readings import DimensionBound
from assembly.geometry.mesh import Floats, Indices


def corners_within(corners: DimensionBound, faces: Indices, centre: Floats, radius: float) -> DimensionBound | None:
    """Corners of all pieces of facets that lie in the box round a ball, with what they do; None if there are none.

    A point of a facet goes with its corners, in shares that are linear in its place, so that what a piece does is
    largest at a corner of it.
    """
    values = corners.value
    low, high = values[faces].min(axis=1), values[faces].max(axis=1)
    near = np.flatnonzero(((low <= centre + radius) & (high >= centre - radius)).all(axis=1))
    shares, owners = [], []
    for face in near.tolist():
        cut = _clipped(values[faces[face]], centre, radius)
        shares.append(cut)
        owners += [face] * len(cut)
    if not owners:
        return None
    share, of = np.concatenate(shares), faces[np.array(owners)]
    slopes = np.einsum("ni,knix->knx", share, corners.slopes[:, of])
    rest = np.einsum("ni,nix->nx", share, corners.rest[of])
    return DimensionBound(np.einsum("ni,nix->nx", share, values[of]), slopes, rest)


def _clipped(triangle: Floats, centre: Floats, radius: float) -> Floats:
    """Shares (m, 3) of the corners of ``triangle`` (3, 3) at the corners of what of it lies in the box."""
    shares = np.eye(3)
    for axis in range(3):
        for sign in (1.0, -1.0):
            within = radius - sign * (shares @ triangle[:, axis] - centre[axis])
            if not len(shares) or (within >= 0).all():
                continue
            ahead, after = np.roll(shares, -1, axis=0), np.roll(within, -1)
            kept = []
            for here, there, left, right in zip(shares, ahead, within, after, strict=True):
                if left >= 0:
                    kept.append(here)
                if (left >= 0) != (right >= 0):
                    kept.append(here + (there - here) * left / (left - right))
            shares = np.array(kept).reshape(-1, 3)
    return shares
