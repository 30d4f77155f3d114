"""How coarse the parts of a machine may be drawn while it moves, so that a slow computer keeps up with the thumb.

Only for looking: nothing is measured on these.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass

from assembly.errors import ShapeError, TimeLimitError
from assembly.geometry.mesh import Mesh, joined
from assembly.geometry.solids import simplified
from assembly.model.machine import Machine, Part
from assembly.time_limit import check_time, time_set_aside

WANTED_TRIANGLES = 32_000
FINEST_MM, COARSEST_MM = 0.1, 1.6


@dataclass(frozen=True, slots=True, eq=False)
class CoarseSolids:
    """Every part with fewer triangles, by name; no surface lies farther than ``within_mm`` from the part's own."""

    within_mm: float
    meshes: Mapping[str, Mesh]


def coarse_solids(machine: Machine, wanted: int = WANTED_TRIANGLES) -> CoarseSolids:
    """The parts as true as they can be with ``wanted`` triangles in all, or as coarse as they may be.

    Where the time is nearly over before, they keep more triangles.
    """
    within = 0.0
    meshes = {name: part.mesh for name, part in machine.parts.items()}
    with suppress(TimeLimitError), time_set_aside(0.1, 1.5):
        while sum(len(mesh.faces) for mesh in meshes.values()) > wanted and within < COARSEST_MM:
            wider = 2 * within or FINEST_MM
            meshes = {name: _coarse(part, wider) for name, part in machine.parts.items()}
            within = wider
    return CoarseSolids(within, meshes)


def _coarse(part: Part, within: float) -> Mesh:
    return joined(_coarse_shape(shape.mesh, within) for shape in part.shapes)


def _coarse_shape(mesh: Mesh, within: float) -> Mesh:
    """The shape itself where it cannot be made a solid, or nothing would be left of it."""
    check_time()
    try:
        made = simplified(mesh, within)
    except ShapeError:
        return mesh
    return made if 0 < len(made.faces) < len(mesh.faces) else mesh
