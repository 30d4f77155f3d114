"""Meshes that were made lately, so that machines which differ in a few numbers share what they have in common."""

from __future__ import annotations

from collections.abc import Callable
from hashlib import blake2b

import numpy as np

from assembly.geometry.mesh import Mesh


class MeshCache:
    """Meshes by the digest of all that they are made from; the least recently used are dropped beyond ``most`` bytes.

    It changes no figure: a mesh is a pure function of what its key is the digest of. Threads may use it at once.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: dict[bytes, Mesh] = {}

    def made(self, key: bytes, make: Callable[[], Mesh]) -> Mesh:
        """The mesh of this key: the one kept, or what ``make`` gives. What ``make`` raises is not kept."""
        mesh = self._kept.pop(key, None) or make()
        self._kept[key] = mesh
        held = 0
        for own, kept in reversed(list(self._kept.items())):
            held += kept.vertices.nbytes + kept.faces.nbytes
            if held > self._most:
                self._kept.pop(own, None)
        return mesh


def mesh_digest(mesh: Mesh, *numbers: float) -> bytes:
    """Digest of every bit of a mesh and of ``numbers``: -0.0 is not 0.0."""
    plain = np.array([len(mesh.vertices), mesh.surface_error, *numbers], dtype=np.float64)
    digest = blake2b(digest_size=20)
    for array in (plain, mesh.vertices, mesh.faces):
        digest.update(array.tobytes())
    return digest.digest()
