"""Solids drawn by pyvista without a display: light, edges, outlines, depths. The only door to VTK's pictures.

Where OpenGL is missing the first picture ends the whole process, so ``works`` is for a process of its own.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats, Indices, Mesh
from assembly.report.render.camera import Camera, Size, looking
from assembly.report.render.creases import CREASE_DEGREES, polydata, rounded
from assembly.report.render.palette import Paint
from assembly.report.render.section import fill_cut, inside_at_near_plane
from assembly.report.render.stage import Layer, StageSolid

Pixels = NDArray[np.float32]

BRIGHT = 1.04
"""Share of its colour that a face shows when it looks into the light."""
_LAMP = (-0.45, 0.75, 1.0)
"""Where the lamp hangs as the viewer sees it (right, up, back): over the left shoulder."""
_BACK = 1.0
"""Millimetres from the eye to the nearest that is drawn."""
_SUNK = 0.6
"""Faces are sunk by so many pens times their slope, else they would hide half the width of their own lines."""


@dataclass(eq=False)
class _Actor:
    """One solid in the scene."""

    solid: StageSolid
    surface: Any
    faces: Any
    lines: Any
    matrix: Floats

    @property
    def box(self) -> Floats:
        """The eight corners (8, 3) mm of the box round it, where it stands."""
        low, high = np.reshape(self.surface.bounds, (3, 2)).T
        return self.world(np.where(np.indices((2, 2, 2)).reshape(3, 8).T == 1, high, low))

    @property
    def triangles(self) -> Floats:
        """Its triangles (n, 3, 3) mm, where it stands."""
        return self.world(self.surface.points[self.surface.regular_faces])

    def world(self, points: Floats) -> Floats:
        """Where ``points`` (..., 3) mm of the solid stand."""
        return np.asarray(points @ self.matrix[:3, :3].T + self.matrix[:3, 3])

    def place(self, rotation: Floats, shift: Floats) -> None:
        """Turn the solid about the origin, then move it by ``shift`` (3,) mm."""
        self.matrix = np.eye(4)
        self.matrix[:3, :3], self.matrix[:3, 3] = rotation, shift
        self.faces.user_matrix = self.lines.user_matrix = self.matrix

    def show(self, visible: bool, pen: float | None, towards: Floats) -> None:
        """Draw it or not, with lines ``pen`` pixels wide as seen along ``towards`` (3,), or without lines."""
        self.faces.visibility, self.lines.visibility = visible, visible and pen is not None
        self.faces.mapper.SetRelativeCoincidentTopologyPolygonOffsetParameters(_SUNK * (pen or 0.0), 0.0)
        if self.lines.visibility:
            self.lines.prop.line_width = pen
            self.lines.mapper.GetInputAlgorithm().SetVector(*(towards @ self.matrix[:3, :3]))


class Renderer:
    """A scene of solids. ``close`` it: each that stays open keeps some 80 MB."""

    def __init__(self, solids: Sequence[StageSolid]) -> None:
        pyvista = _pyvista()
        self._plotter = pyvista.Plotter(off_screen=True, window_size=(64, 64), lighting="none")
        self._plotter.set_background("white")
        self._plotter.disable_anti_aliasing()  # depths of mixed pixels would lie between two surfaces
        self._plotter.enable_parallel_projection()
        self._plotter.camera_set = True
        lamp = pyvista.Light(light_type="camera light", position=_LAMP)
        lamp.positional = False
        self._plotter.add_light(lamp)
        self._actors = [self._added(solid) for solid in solids]

    def _added(self, solid: StageSolid) -> _Actor:
        surface = polydata(solid.mesh)
        light: dict[str, Any] = {"ambient": solid.paint.shade, "diffuse": BRIGHT - solid.paint.shade}
        faces = self._plotter.add_mesh(
            rounded(surface), color=solid.paint.fill, smooth_shading=True, render=False, reset_camera=False, **light
        )
        lines = self._plotter.add_silhouette(surface, color=solid.paint.line, feature_angle=CREASE_DEGREES)
        lines.prop.lighting = False
        lines.mapper.GetInputAlgorithm().SetDirectionToSpecifiedVector()
        for drawn in (faces, lines):
            drawn.mapper.SetResolveCoincidentTopologyToPolygonOffset()
        return _Actor(solid, surface, faces, lines, np.eye(4))

    def place(self, rotations: Floats, shifts: Floats) -> None:
        """Turn each solid about the origin by ``rotations`` (k, 3, 3), then move it by ``shifts`` (k, 3) mm."""
        for actor, rotation, shift in zip(self._actors, rotations, shifts, strict=True):
            actor.place(rotation, shift)

    def depth(self, layers: Collection[Layer], camera: Camera, size: Size) -> Floats:
        """Depth (h, w) mm of the nearest surface of ``layers`` behind the near plane, inf if there is none."""
        return self._shot(layers, camera, size, None)[1]

    def image(self, layers: Collection[Layer], camera: Camera, size: Size, pen: float) -> tuple[Pixels, Floats]:
        """Colours (h, w, 3) of ``layers`` from 0 to 1 with lines ``pen`` pixels wide, and depths (h, w) mm.

        Where the near plane cuts a solid its cut face is shown, hatched.
        """
        taken, depth = self._shot(layers, camera, size, pen)
        colour = taken.astype(np.float32) / np.float32(255)
        for actor in self._actors:
            if actor.solid.layer in layers and _crosses(camera, actor.box):
                inside = inside_at_near_plane(actor.triangles, camera, size) > 0
                fill_cut(colour, inside, actor.solid.paint, BRIGHT, pen)
                depth[inside] = camera.near
        return colour, depth

    def _shot(
        self, layers: Collection[Layer], camera: Camera, size: Size, pen: float | None
    ) -> tuple[NDArray[np.uint8], Floats]:
        """Colours (h, w, 3) and depths (h, w) mm; lines only where there is a pen."""
        shown = [actor for actor in self._actors if actor.solid.layer in layers]
        if not shown:
            return np.full((size[1], size[0], 3), 255, np.uint8), np.full((size[1], size[0]), np.inf)
        for actor in self._actors:
            actor.show(actor in shown, pen, camera.towards)
        depths = camera.pixels(np.concatenate([actor.box for actor in shown]), size)[:, 2]
        start = max(camera.near, float(depths.min()) - _BACK)
        eye = self._plotter.camera
        eye.position = camera.target + (start - _BACK) * camera.towards
        eye.focal_point, eye.up = eye.position + camera.towards, camera.up
        eye.parallel_scale = camera.height / 2
        eye.clipping_range = (_BACK, _BACK + max(float(depths.max()) - start, 0.0) + _BACK)
        if tuple(self._plotter.window_size) != size:
            self._plotter.window_size = size  # draws anew
        self._plotter.render()
        taken = np.array(self._plotter.screenshot(return_img=True))
        seen = self._plotter.get_image_depth(fill_value=-np.inf, reset_camera_clipping_range=False)
        return taken, start - _BACK - np.asarray(seen, dtype=np.float64)

    def close(self) -> None:
        """Give the picture's memory back."""
        self._plotter.close()


def _crosses(camera: Camera, points: Floats) -> bool:
    """Whether ``points`` (n, 3) mm lie on both sides of the near plane."""
    before = (points - camera.target) @ camera.towards < camera.near
    return bool(before.any() and not before.all())


@contextmanager
def rendering(solids: Sequence[StageSolid]) -> Iterator[Renderer]:
    """A renderer of ``solids`` that is closed at the end, whatever happens."""
    renderer = Renderer(solids)
    try:
        yield renderer
    finally:
        renderer.close()


def works() -> bool:
    """Draw a square and look whether it is where it must be; may end the process instead of answering."""
    corners = np.array([[-1.0, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0]])
    faces: Indices = np.array([[0, 1, 2], [0, 2, 3]])
    square = StageSolid(Layer.FIRST, Mesh(corners, faces), Paint((200, 0, 0), (0, 0, 0), 0, 1.0))
    with rendering([square]) as renderer:
        found = np.isfinite(renderer.depth((Layer.FIRST,), looking((0.0, 0.0, -1.0), (0.0, 0.0, 0.0), 4.0), (40, 40)))
    return bool(found.sum() == 400 and found[10:30, 10:30].all())


def _pyvista() -> Any:
    """The library, told before it starts that there is no display if there is none: EGL, and OSMesa without it."""
    display = os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")
    if sys.platform.startswith("linux") and not display:
        os.environ.setdefault("VTK_DEFAULT_OPENGL_WINDOW", "vtkEGLRenderWindow")
    import pyvista
    from vtkmodules.vtkCommonCore import vtkLogger

    vtkLogger.SetStderrVerbosity(vtkLogger.VERBOSITY_ERROR)  # it warns of each kind of OpenGL that there is not
    return pyvista
