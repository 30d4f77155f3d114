"""The one shape type of every query: triangles, with the error of the triangles against the true surface."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from assembly.errors import Fault, ShapeError

if TYPE_CHECKING:
    from pydantic_core import CoreSchema

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]
Ids = NDArray[np.intp]
"""Numbers of rows of an array."""
Flags = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Mesh:
    """A closed, outward surface of triangles in millimetres.

    ``vertices`` (n, 3) float64 mm, ``faces`` (m, 3) indices, counter-clockwise seen from outside.
    ``surface_error`` mm: no point of the true surface is farther than this from the triangles, nor
    any point of the triangles farther from the true surface. Both arrays are made read-only.
    """

    vertices: Floats
    faces: Indices
    surface_error: float = 0.0

    def __post_init__(self) -> None:
        for name, kind in (("vertices", np.float64), ("faces", np.int64)):
            array = np.array(getattr(self, name), dtype=kind).reshape(-1, 3)
            array.setflags(write=False)
            object.__setattr__(self, name, array)

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: Any) -> CoreSchema:
        """How pydantic writes and reads it: both arrays as lists."""
        from pydantic_core import core_schema

        def lists(mesh: Mesh) -> dict[str, Any]:
            arrays = {name: getattr(mesh, name).tolist() for name in ("vertices", "faces")}
            return {**arrays, "surface_error": mesh.surface_error}

        written = core_schema.plain_serializer_function_ser_schema(lists)
        return core_schema.no_info_plain_validator_function(lambda value: cls(**value), serialization=written)

    @cached_property
    def volume(self) -> float:
        """Enclosed volume in mm³; negative where the surface is inside out, 0 without triangles."""
        if not len(self.faces):
            return 0.0
        a, b, c = (self.vertices[self.faces[:, k]] - self.vertices.mean(axis=0) for k in range(3))
        return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)

    @cached_property
    def bounds(self) -> Floats:
        """(2, 3) mm: lowest and highest corner of the box round the mesh. ShapeError where it has no vertices."""
        if not len(self.vertices):
            raise ShapeError(Fault("an empty mesh has no bounds", hint="ask only where it has triangles"))
        box = np.array([self.vertices.min(axis=0), self.vertices.max(axis=0)])
        box.setflags(write=False)
        return box

    def moved(self, pose: Floats) -> Mesh:
        """The mesh placed by ``pose`` (4, 4), a rotation and a shift: ``world_from_part``."""
        return Mesh(self.vertices @ pose[:3, :3].T + pose[:3, 3], self.faces, self.surface_error)

    def mirrored(self) -> Mesh:
        """The twin on the other side of the plane y = 0, facets turned so that it stays outward."""
        return Mesh(self.vertices * (1.0, -1.0, 1.0), self.faces[:, ::-1], self.surface_error)


def joined(meshes: Iterable[Mesh]) -> Mesh:
    """All triangles of ``meshes`` in one list, in their order; nothing is merged or cut away."""
    vertices, faces, error, offset = [], [], 0.0, 0
    for mesh in meshes:
        vertices.append(mesh.vertices)
        faces.append(mesh.faces + offset)
        offset += len(mesh.vertices)
        error = max(error, mesh.surface_error)
    if not vertices:
        return Mesh(np.empty((0, 3)), np.empty((0, 3), dtype=np.int64))
    return Mesh(np.concatenate(vertices), np.concatenate(faces), error)
