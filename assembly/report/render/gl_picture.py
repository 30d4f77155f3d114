"""What is seen, found by OpenGL without a display. The only door to pyvista and VTK.

Where OpenGL is missing the first picture ends the whole process, so ``works`` is for a process of its own.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any

import numpy as np

from assembly.geometry.mesh import Floats, Indices
from assembly.report.render.camera import Camera, Size, looking


class GlRenderer:
    """Draws each layer with every triangle in a colour of its own, and reads the colours back as numbers."""

    def __init__(self, layers: Mapping[str, Floats]) -> None:
        pyvista = _pyvista()
        filled = {name: triangles for name, triangles in layers.items() if len(triangles)}
        points = np.concatenate([triangles.reshape(-1, 3) for triangles in filled.values()])
        self._centre = (points.min(axis=0) + points.max(axis=0)) / 2
        self._reach = float(np.linalg.norm(points - self._centre, axis=1).max()) + 1.0
        self._plotter = pyvista.Plotter(off_screen=True, window_size=(64, 64), lighting="none")
        self._plotter.set_background("black")
        self._plotter.disable_anti_aliasing()
        self._plotter.enable_parallel_projection()
        self._plotter.camera_set = True
        self._actors = {name: self._added(pyvista, triangles) for name, triangles in filled.items()}

    def _added(self, pyvista: Any, triangles: Floats) -> Any:
        count = len(triangles)
        faces = np.column_stack([np.full(count, 3), np.arange(3 * count).reshape(-1, 3)])
        data = pyvista.PolyData((triangles - self._centre).reshape(-1, 3), faces.ravel())
        number = np.arange(1, count + 1)
        data.cell_data["number"] = np.stack([number >> 16, number >> 8 & 255, number & 255], axis=1).astype(np.uint8)
        return self._plotter.add_mesh(
            data, scalars="number", rgb=True, lighting=False, show_scalar_bar=False, reset_camera=False, render=False
        )

    def seen(self, layer: str, camera: Camera, size: Size) -> Indices:
        """The nearest triangle of ``layer`` behind the near plane at each pixel (h, w), -1 where there is none."""
        for name, actor in self._actors.items():
            actor.visibility = name == layer
        middle = float((self._centre - camera.target) @ camera.towards)
        start = max(camera.near, middle - self._reach)
        view = self._plotter.camera
        position = camera.target - self._centre + (start - 1.0) * camera.towards
        view.position, view.focal_point, view.up = position, position + camera.towards, camera.up
        view.parallel_scale = camera.height / 2
        view.clipping_range = (1.0, 1.0 + max(middle + self._reach - start, 1.0))
        self._plotter.window_size = size
        self._plotter.render()
        image = self._plotter.screenshot(return_img=True).astype(np.int64)
        return np.asarray((image[..., 0] << 16 | image[..., 1] << 8 | image[..., 2]) - 1, dtype=np.int64)

    def close(self) -> None:
        """Give the picture's memory back; without it each picture keeps some 80 MB."""
        self._plotter.close()


@contextmanager
def gl_renderer(layers: Mapping[str, Floats]) -> Iterator[GlRenderer]:
    """A renderer of ``layers`` that is closed at the end, whatever happens."""
    renderer = GlRenderer(layers)
    try:
        yield renderer
    finally:
        renderer.close()


def works() -> bool:
    """Draw two triangles and look whether each is where it must be; may end the process instead of answering."""
    square = np.array([[[-1, -1, 0], [1, -1, 0], [1, 1, 0]], [[-1, -1, 0], [1, 1, 0], [-1, 1, 0]]], dtype=np.float64)
    with gl_renderer({"probe": square}) as renderer:
        found = renderer.seen("probe", looking((0.0, 0.0, -1.0), (0.0, 0.0, 0.0), 4.0), (40, 40))
    return bool(found[0, 0] == -1 and set(np.unique(found)) == {-1, 0, 1})


def _pyvista() -> Any:
    """The library, told before it starts that there is no display where there is none."""
    display = os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")
    if sys.platform.startswith("linux") and not display:
        os.environ.setdefault("VTK_DEFAULT_OPENGL_WINDOW", "vtkEGLRenderWindow")
    import pyvista

    return pyvista
