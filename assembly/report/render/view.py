"""One view of a stage as a picture: the pair, the rest faint before it, the overlap over all."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from assembly.geometry.mesh import Floats
from assembly.report.render.camera import Camera, Size
from assembly.report.render.renderer import Pixels, Renderer
from assembly.report.render.stage import PAIR, Layer

_SAMPLES = 8_000_000
"""Most samples of one view; larger pictures are drawn coarser and enlarged, so that memory stays below 1 GB."""
_SAMPLES_PER_PIXEL_SIDE = 2.0
_PEN_SHARE = 1 / 760
"""Width of an edge as a share of the height of the view."""


def view(
    renderer: Renderer,
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
    colour, front = renderer.image(PAIR, camera, fine, pen)
    paired = np.isfinite(front)
    open_camera = replace(camera, near=max(camera.near, clear_before))
    rest, depth = renderer.image((Layer.REST,), open_camera, fine, pen)
    solid = paired | np.isfinite(depth)
    _lay(colour, rest, depth < front, np.where(paired, ghost, 1.0))
    if open_camera.near > camera.near:
        rest, depth = renderer.image((Layer.REST,), camera, fine, pen)
        _lay(colour, rest, depth < open_camera.near, np.full(depth.shape, ghost))
        solid |= np.isfinite(depth)
    overlap, depth = renderer.image((Layer.OVERLAP,), camera, fine, pen)
    claimed = np.isfinite(depth)
    colour[claimed] = overlap[claimed]
    if transparent:
        colour = np.concatenate([colour, (solid | claimed)[..., None].astype(np.float32)], axis=-1)
    image = Image.fromarray(np.round(colour * 255).astype(np.uint8))
    return image.resize(size, Image.Resampling.LANCZOS if factor < 2 else Image.Resampling.BOX)


def _lay(colour: Pixels, layer: Pixels, shown: NDArray[np.bool_], opacity: Floats) -> None:
    """Lay ``layer`` (h, w, 3) over ``colour`` where it is ``shown`` (h, w)."""
    share = opacity[shown][:, None].astype(np.float32)
    colour[shown] = (1 - share) * colour[shown] + share * layer[shown]
