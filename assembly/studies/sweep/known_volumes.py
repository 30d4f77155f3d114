"""Volumes and centres of parts that earlier sweeps found, each under a key of every bit of the part's facets."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assembly.clearance.proof.cached import FiguresCache
from assembly.geometry.mass_properties import volume_and_centre
from assembly.geometry.mesh import Floats, Mesh
from assembly.geometry.mesh_cache import mesh_digest
from assembly.model.quantities import Vector


@dataclass(frozen=True, slots=True)
class PartVolume:
    """Volume in mm³ and its centre in mm."""

    volume: float
    centre: Vector


class KnownVolumes:
    """As ``volume_and_centre``, as far as a cache knows it; what is found besides is kept by ``keep``."""

    def __init__(self, cache: FiguresCache) -> None:
        self._cache, self._found = cache, dict[str, object]()

    def of(self, mesh: Mesh) -> tuple[float, Floats]:
        """Volume and centre of what ``mesh`` fills. Raises ShapeError as ``volume_and_centre`` does."""
        key = f"volume {mesh_digest(mesh).hex()}"
        known = self._cache.look_up_figures([key], PartVolume).get(key)
        if known is None:
            volume, centre = volume_and_centre(mesh)
            x, y, z = (float(value) for value in centre)
            known = self._found[key] = PartVolume(volume, (x, y, z))
        return known.volume, np.array(known.centre)

    def keep(self) -> None:
        """Keep what was found, in one transaction."""
        if self._found:
            self._cache.keep_figures(self._found)
