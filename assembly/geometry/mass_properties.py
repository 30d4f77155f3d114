"""Volume and centre of what a part fills, each place counted once even where its shapes run into each other."""

from __future__ import annotations

import numpy as np

from assembly.errors import Fault, ShapeError
from assembly.geometry.mesh import Floats, Mesh
from assembly.geometry.solids import union


def volume_and_centre(mesh: Mesh) -> tuple[float, Floats]:
    """Volume in mm³ and its centre (3,) of the solid that ``mesh`` fills, hollows taken out.

    Sums of tetrahedra from one point to every facet, with their signs (divergence theorem). Raises ShapeError where the
    surface is not closed, or encloses nothing or less.
    """
    solid = union([mesh])
    if not len(solid.faces):
        raise ShapeError(Fault("encloses no volume", hint="a part must be a solid, not a sheet"))
    about = solid.bounds.mean(axis=0)
    a, b, c = (solid.vertices[solid.faces[:, k]] - about for k in range(3))
    sixfold = np.einsum("ij,ij->i", a, np.cross(b, c))
    volume = float(sixfold.sum() / 6)
    if volume <= 0:
        raise ShapeError(Fault("its surface is inside out", hint="turn its facets round"))
    moment = ((a + b + c) * sixfold[:, None]).sum(axis=0) / 24
    return volume, np.asarray(about + moment / volume)
