"""A scene parted into the three layers that are drawn over each other, and one view of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from PIL import Image

from assembly.errors import PictureError
from assembly.geometry.mesh import Floats
from assembly.geometry.scene import Role, Scene
from assembly.report.render.camera import Camera, Size
from assembly.report.render.palette import OVERLAP, PAINTS
from assembly.report.render.shaded_surfaces import Surfaces, surfaces
from assembly.report.render.shading import LayerImage, Mask, Pixels, Renderer, layer_image

_SAMPLES = 8_000_000
"""Most samples of one view; larger pictures are drawn coarser and enlarged, so that memory stays below 1 GB."""
_SAMPLES_PER_PIXEL_SIDE = 2.0
_PEN_SHARE = 1 / 760
"""Width of an edge as a share of the height of the view."""


@dataclass(frozen=True, eq=False)
class Stage:
    """The layers of a scene: the two parts of the pair, what both claim, and all the rest."""

    pair: Surfaces
    rest: Surfaces
    overlap: Surfaces
    points: Floats
    """All corners (n, 3) mm."""

    @property
    def triangles(self) -> Mapping[str, Floats]:
        """The triangles (n, 3, 3) mm of each layer, by the layer's name, as renderers want them."""
        return {"pair": self.pair.triangles, "rest": self.rest.triangles, "overlap": self.overlap.triangles}


def stage(scene: Scene) -> Stage:
    """The layers of ``scene``; PictureError where a solid has no finite place or nothing is left to draw."""
    for solid in scene.solids:
        if not np.isfinite(solid.mesh.vertices).all():
            raise PictureError(f"part {solid.name[:60]!r} cannot be drawn: it has corners at no finite place")
    pair = surfaces([(solid.mesh, PAINTS[solid.role]) for solid in scene.solids if solid.role != Role.QUIET])
    rest = surfaces([(solid.mesh, PAINTS[Role.QUIET]) for solid in scene.solids if solid.role == Role.QUIET])
    overlap = surfaces([(scene.overlap, OVERLAP)] if scene.overlap is not None else [])
    if not (pair or rest):
        raise PictureError("there is nothing to draw: no solid of the scene has a surface")
    return Stage(pair, rest, overlap, np.concatenate([solid.mesh.vertices for solid in scene.solids]))


def view(
    renderer: Renderer,
    layers: Stage,
    camera: Camera,
    size: Size,
    ghost: float,
    clear_before: float = -np.inf,
    transparent: bool = False,
) -> Image.Image:
    """One view of all layers as a picture of ``size``, on white or on a ground that is ``transparent``.

    The rest is drawn with the opacity ``ghost`` where it stands before the pair, or nearer than the
    depth ``clear_before`` mm; the overlap is drawn over all.
    """
    factor = min(_SAMPLES_PER_PIXEL_SIDE, float(np.sqrt(_SAMPLES / (size[0] * size[1]))))
    fine = (max(1, round(size[0] * factor)), max(1, round(size[1] * factor)))
    pen = max(1.0, factor * max(1.0, size[1] * _PEN_SHARE))
    colour = np.ones((fine[1], fine[0], 3), dtype=np.float32)
    pair = layer_image(renderer, "pair", layers.pair, camera, fine, pen)
    colour[pair.hit] = pair.colour[pair.hit]
    open_camera = replace(camera, near=max(camera.near, clear_before))
    rest = layer_image(renderer, "rest", layers.rest, open_camera, fine, pen)
    _lay(colour, rest, rest.hit & (rest.depth < pair.depth), np.where(pair.hit, ghost, 1.0))
    if open_camera.near > camera.near:
        near = layer_image(renderer, "rest", layers.rest, camera, fine, pen)
        _lay(colour, near, near.hit & (near.depth < open_camera.near), np.full(near.hit.shape, ghost))
    overlap = layer_image(renderer, "overlap", layers.overlap, camera, fine, pen)
    colour[overlap.hit] = overlap.colour[overlap.hit]
    if transparent:
        solid = pair.hit | rest.hit | overlap.hit
        colour = np.concatenate([colour, solid[..., None].astype(np.float32)], axis=-1)
    image = Image.fromarray(np.round(colour * 255).astype(np.uint8))
    return image.resize(size, Image.Resampling.LANCZOS if factor < 2 else Image.Resampling.BOX)


def _lay(colour: Pixels, layer: LayerImage, shown: Mask, opacity: Floats) -> None:
    """Lay ``layer`` over ``colour`` where it is ``shown`` (h, w), its lines somewhat stronger than its faces."""
    share = np.minimum(np.where(layer.line, 1.6, 1.0) * opacity, 1.0)[shown][:, None].astype(np.float32)
    colour[shown] = (1 - share) * colour[shown] + share * layer.colour[shown]
