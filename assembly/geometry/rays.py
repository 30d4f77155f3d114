"""Where rays first meet a surface (Möller and Trumbore 1997, Journal of Graphics Tools 2, pages 21 to 28)."""

from __future__ import annotations

import numpy as np

from assembly.geometry.mesh import Floats, Ids, Mesh
from assembly.time_limit import check_time

PAIRS_AT_ONCE = 1 << 19
_EDGE = 1e-9
"""How far outside of a facet, as a share of it, a ray still meets it: none slips through between two."""


def first_exits(mesh: Mesh, origins: Floats, directions: Floats, beyond: float = 1e-6) -> tuple[Floats, Ids]:
    """How far (n,) mm rays go until they leave the solid ``mesh``, and through which facet; infinite and -1 if never.

    Rays start at ``origins`` (n, 3) mm along unit ``directions`` (n, 3). Facets nearer than ``beyond`` do not count.
    """
    far, facet = np.full(len(origins), np.inf), np.full(len(origins), -1, dtype=np.intp)
    if not len(mesh.faces):
        return far, facet
    a, b, c = (mesh.vertices[mesh.faces[:, k]] for k in range(3))
    first, second = b - a, c - a
    size = max(1, PAIRS_AT_ONCE // len(mesh.faces))
    for start in range(0, len(origins), size):
        check_time()
        rows = slice(start, start + size)
        along = directions[rows, None]
        cross = np.cross(along, second)
        steep = np.einsum("fk,nfk->nf", first, cross)
        from_a = origins[rows, None] - a
        other = np.cross(from_a, first)
        with np.errstate(divide="ignore", invalid="ignore"):
            u = np.einsum("nfk,nfk->nf", from_a, cross) / steep
            v = np.einsum("nfk,nfk->nf", np.broadcast_to(along, other.shape), other) / steep
            t = np.einsum("fk,nfk->nf", second, other) / steep
            met = (steep < 0) & (u >= -_EDGE) & (v >= -_EDGE) & (u + v <= 1 + _EDGE) & (t > beyond)
        t = np.where(met, t, np.inf)
        facet[rows] = t.argmin(axis=1)
        far[rows] = t.min(axis=1)
    facet[~np.isfinite(far)] = -1
    return far, facet
