"""Closed outward triangle surfaces from rings of points: lofted along a line, or turned about an axis."""

from __future__ import annotations

from math import pi

import numpy as np

from assembly.geometry.mesh import Floats, Indices, Mesh
from assembly.geometry.shapes.facets import sag
from assembly.geometry.shapes.frames import crosswise


def lofted(rings: int, points: int, *, closed: bool) -> Indices:
    """Triangles (m, 3) between neighbouring rings; point j of ring i has the index i * ``points`` + j.

    Outward where each ring runs counter-clockwise about the way from ring to ring. ``closed`` joins the
    last ring to the first.
    """
    ring, point = (grid.ravel() for grid in np.mgrid[: rings if closed else rings - 1, :points])
    ring_after, point_after = (ring + 1) % rings, (point + 1) % points
    a, b = ring * points + point, ring * points + point_after
    c, d = ring_after * points + point_after, ring_after * points + point
    return np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])


def cap(ring: Indices) -> Indices:
    """Triangles (n - 2, 3) over a convex ring (n,), turning the way it runs.

    Every second corner is cut off until three are left: as few triangles as a fan, and less slender.
    """
    triangles: list[Indices] = []
    while len(ring) > 2:
        cut = len(ring) // 2
        starts, corners = ring[: 2 * cut : 2], ring[1 : 2 * cut : 2]
        triangles.append(np.stack([starts, corners, np.append(ring[2::2], ring[0])[:cut]], axis=1))
        ring = np.delete(ring, np.arange(1, 2 * cut, 2))
    return np.concatenate(triangles)


def revolved(profile: Floats, origin: Floats, axis: Floats, count: int, profile_error: float = 0.0) -> Mesh:
    """The solid that a closed ``profile`` (n, 2) of (along, radius) in mm sweeps about ``axis``, in ``count`` facets.

    ``profile`` does not cross itself, its radii are not negative; ``profile_error`` mm bounds the distance,
    both ways, between it and the true profile.

    Surface error. Turned exactly, the profile is within ``profile_error`` of the true surface (the same turn
    about the axis takes each point's nearest point along). The facets between two neighbouring turns of one
    edge are plane, and their points at distance along a are chords of the circle of radius r(a), so moving
    each point of the turned profile straight towards the axis, by r(1 - cos(π/count)/cos φ) with φ its angle
    from the middle of the chord, maps it one to one onto the facets. Hence
    ``profile_error + r(1 - cos(π/count))`` with the largest radius r bounds the distance both ways.
    """
    if _signed_area(profile) > 0:
        profile = profile[::-1]
    frame_axis, side, up = crosswise(axis).T
    angles = 2 * pi * np.arange(count) / count
    spokes = np.outer(np.cos(angles), side) + np.outer(np.sin(angles), up)
    along, radius = profile.T
    vertices = origin + along[:, None, None] * frame_axis + radius[:, None, None] * spokes
    own = np.arange(len(profile) * count).reshape(len(profile), count)
    own[radius == 0] = own[radius == 0][:, :1]
    faces = own.ravel()[lofted(len(profile), count, closed=True)]
    faces = faces[(faces != np.roll(faces, 1, axis=1)).all(axis=1)]
    used, faces = np.unique(faces, return_inverse=True)
    error = profile_error + sag(float(radius.max()), pi / count)
    return Mesh(vertices.reshape(-1, 3)[used], faces.reshape(-1, 3), error)


def _signed_area(profile: Floats) -> float:
    x, y = profile.T
    return float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2
