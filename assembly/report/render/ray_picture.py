"""What is seen, found by casting a ray through every pixel: needs no graphics library. The only door to embreex."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any

import numpy as np

from assembly.geometry.mesh import Floats, Indices
from assembly.report.render.camera import Camera, Size

_RAYS_AT_ONCE = 1_000_000


class RayRenderer:
    """Casts parallel rays at layers of triangles (n, 3, 3) mm."""

    def __init__(self, layers: Mapping[str, Floats]) -> None:
        from embreex.mesh_construction import TriangleMesh
        from embreex.rtcore_scene import EmbreeScene

        filled = {name: triangles for name, triangles in layers.items() if len(triangles)}
        points = np.concatenate([triangles.reshape(-1, 3) for triangles in filled.values()])
        self._centre = (points.min(axis=0) + points.max(axis=0)) / 2
        self._reach = float(np.linalg.norm(points - self._centre, axis=1).max()) + 1.0
        self._scenes: dict[str, Any] = {}
        self._corners: dict[str, Floats] = {}
        for name, triangles in filled.items():
            self._scenes[name] = EmbreeScene()
            TriangleMesh(self._scenes[name], (triangles - self._centre).astype(np.float32))
            low, high = triangles.min(axis=(0, 1)), triangles.max(axis=(0, 1))
            self._corners[name] = np.where(np.indices((2, 2, 2)).reshape(3, 8).T == 1, high, low)

    def seen(self, layer: str, camera: Camera, size: Size) -> Indices:
        """The nearest triangle of ``layer`` behind the near plane at each pixel (h, w), -1 where there is none."""
        found = np.full((size[1], size[0]), -1, dtype=np.int64)
        start = max(camera.near, float((self._centre - camera.target) @ camera.towards) - self._reach)
        rows, columns = self._window(layer, camera, size)
        band = max(1, _RAYS_AT_ONCE // max(1, columns.stop - columns.start))
        for top in range(rows.start, rows.stop, band):
            block = (slice(top, min(top + band, rows.stop)), columns)
            y, x = np.mgrid[block] + 0.5
            origins = camera.rays(x.ravel(), y.ravel(), size) + start * camera.towards - self._centre
            directions = np.broadcast_to(camera.towards.astype(np.float32), origins.shape)
            hits = self._scenes[layer].run(origins.astype(np.float32), np.ascontiguousarray(directions))
            found[block] = hits.reshape(x.shape)
        return found

    def _window(self, layer: str, camera: Camera, size: Size) -> tuple[slice, slice]:
        """Rows and columns of the picture that the layer can cover."""
        spots = camera.pixels(self._corners[layer], size)[:, :2]
        low = np.clip(np.floor(spots.min(axis=0)), 0, size).astype(int)
        high = np.clip(np.ceil(spots.max(axis=0)), 0, size).astype(int)
        return slice(int(low[1]), int(high[1])), slice(int(low[0]), int(high[0]))


@contextmanager
def ray_renderer(layers: Mapping[str, Floats]) -> Iterator[RayRenderer]:
    """A renderer of ``layers`` that holds nothing to be closed."""
    yield RayRenderer(layers)
