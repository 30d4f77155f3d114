"""All the room that a solid takes as it is turned about a line: a solid of revolution that holds it at every turn.

At a height t along the line the farthest point of the solid lies on an edge of its facets. The distance of an edge's
points from the line is a convex function along the edge, so it is at most the straight function between that of both
ends; and between two heights of corners the largest of several straight functions is at most the straight one between
its ends. So the profile that joins these ends holds the solid, and is its own for a prism that stands along the line.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from assembly.geometry.mesh import Floats, Indices, Mesh
from assembly.geometry.rotations import unit
from assembly.geometry.shapes.rounds import turned

SAME = 1e-7
"""mm: corners whose heights differ by less are at one height, and radii are one; the profile is larger by it."""


def at_every_turn(mesh: Mesh, at: ArrayLike, along: ArrayLike, *, bore: float = 0.0, facet_error: float = 0.02) -> Mesh:
    """What ``mesh`` takes as it turns about the line through ``at`` (3,) mm ``along`` (3,).

    It is full but for a round hole of diameter ``bore`` mm through it, of which the caller knows. Surface error: that
    of the mesh and that of the facets of the round. ShapeError where the hole leaves nothing of it.
    """
    line, origin = unit(along), np.asarray(at, dtype=np.float64)
    away = mesh.vertices - origin
    heights = away @ line
    radii = np.linalg.norm(away - heights[:, None] * line, axis=1)
    outer = _profile(heights, radii, mesh.faces)
    inner = bore / 2
    closed = [(outer[0][0], inner), *((t, max(r, inner)) for t, r in outer), (outer[-1][0], inner)]
    profile = [one for k, one in enumerate(closed) if not k or np.abs(np.subtract(one, closed[k - 1])).max() > SAME]
    made = turned(profile, origin, line, facet_error=facet_error)
    return Mesh(made.vertices, made.faces, made.surface_error + mesh.surface_error)


def _profile(heights: Floats, radii: Floats, faces: Indices) -> list[tuple[float, float]]:
    """Corners (t, r) of a profile, in the order of heights, that no point of the facets stands out of."""
    steps = np.sort(heights)
    steps = steps[np.concatenate([[True], np.diff(steps) > SAME])]
    edges = np.unique(np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1), axis=0)
    low, high = (end(heights[edges], axis=1) for end in (np.min, np.max))
    first = np.take_along_axis(edges, np.argmin(heights[edges], axis=1)[:, None], axis=1)[:, 0]
    last = edges.sum(axis=1) - first
    found: list[tuple[float, float]] = []
    for start, end in pairwise(steps.tolist()):
        over = (low <= start + SAME) & (high >= end - SAME)
        span = np.maximum(high[over] - low[over], SAME)
        for height in (start, end):
            share = np.clip((height - low[over]) / span, 0.0, 1.0)
            every = radii[first[over]] + share * (radii[last[over]] - radii[first[over]])
            found.append((height, float(every.max()) + SAME))
    return found
