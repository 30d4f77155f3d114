"""From the triangle seen at each pixel to colour and depth: light, outlines, edges, cut faces, for any renderer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats, Indices
from assembly.report.render.camera import Camera, Size, unit
from assembly.report.render.section import inside_at_near_plane
from assembly.report.render.shaded_surfaces import Surfaces

Pixels = NDArray[np.float32]
Mask = NDArray[np.bool_]

_BRIGHT = 1.04
"""Share of its colour that a face shows when it looks into the light."""


class Renderer(Protocol):
    """Finds what is seen; holds the layers it was opened with, by name."""

    def seen(self, layer: str, camera: Camera, size: Size) -> Indices:
        """The nearest triangle of ``layer`` behind the near plane at each pixel (h, w), -1 where there is none."""
        ...


@dataclass(frozen=True, eq=False)
class Glimpse:
    """One layer as seen: at each pixel (h, w) the solid's index or -1, its depth in mm (inf where none), its light."""

    owner: Indices
    depth: Floats
    light: Pixels
    cut: Mask

    @property
    def hit(self) -> Mask:
        """Where something is seen (h, w)."""
        return self.owner >= 0


@dataclass(frozen=True, eq=False)
class LayerImage:
    """One layer drawn: colour (h, w, 3) from 0 to 1, depth (h, w) mm, and where a line was drawn (h, w)."""

    colour: Pixels
    depth: Floats
    line: Mask

    @property
    def hit(self) -> Mask:
        """Where something is drawn (h, w)."""
        return np.isfinite(self.depth)


def glimpse(renderer: Renderer, name: str, layer: Surfaces, camera: Camera, size: Size) -> Glimpse:
    """What ``renderer`` sees of ``layer``, with its depth, its light and its cut faces."""
    shape = (size[1], size[0])
    owner = np.full(shape, -1, dtype=np.int64)
    depth, light, cut = np.full(shape, np.inf), np.zeros(shape, dtype=np.float32), np.zeros(shape, dtype=bool)
    if not layer:
        return Glimpse(owner, depth, light, cut)
    triangle = renderer.seen(name, camera, size)
    rows, columns = np.nonzero(triangle >= 0)
    index = triangle[rows, columns]
    owner[rows, columns] = layer.owner[index]
    used = np.zeros(len(layer.triangles), dtype=bool)
    used[index] = True
    shade = np.array([paint.shade for paint in layer.paints])[layer.owner[used]]
    values = _depth_and_light(layer.triangles[used], layer.normals[used], shade, camera, size)
    place = (np.cumsum(used) - 1)[index]
    depth[rows, columns], light[rows, columns] = _across(*values, place, columns, rows)
    if np.isfinite(camera.near):
        for solid in range(len(layer.paints)):
            filled = inside_at_near_plane(layer.triangles[layer.owner == solid], camera, size) > 0
            owner[filled], depth[filled], light[filled], cut[filled] = solid, camera.near, _BRIGHT, True
    return Glimpse(owner, depth, light, cut)


def _depth_and_light(
    triangles: Floats, normals: Floats, shade: Floats, camera: Camera, size: Size
) -> tuple[Floats, Floats]:
    """Where the corners are seen (n, 3, 3), and their depth in mm with their light (n, 3, 2), ``shade`` (n,) at least.

    The lamp hangs over the viewer's left shoulder and lights both sides of a face.
    """
    face = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    turned = np.where(face @ camera.towards > 0, -1.0, 1.0)[:, None]
    lamp = unit(-0.45 * camera.right + 0.75 * camera.up - camera.towards)
    least = shade[:, None]
    light = least + (_BRIGHT - least) * np.clip(turned * (normals @ lamp), 0.0, 1.0)
    seen = camera.pixels(triangles, size)
    return seen, np.stack([seen[..., 2], light], axis=-1)


def _across(seen: Floats, values: Floats, index: Indices, column: Indices, row: Indices) -> tuple[Floats, Floats]:
    """Corner ``values`` (n, 3, 2) read in the middle of the pixels ``column``, ``row`` (m,), in triangles ``index``.

    Linear over each triangle, and never outside what its corners hold: a triangle seen edge-on has no slope.
    """
    a, b = seen[:, 1, :2] - seen[:, 0, :2], seen[:, 2, :2] - seen[:, 0, :2]
    area = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    inverse = 1 / np.where(np.abs(area) > 1e-12, area, np.inf)
    rise, other = values[:, 1] - values[:, 0], values[:, 2] - values[:, 0]
    slope_x = (rise * b[:, 1:] - other * a[:, 1:]) * inverse[:, None]
    slope_y = (other * a[:, :1] - rise * b[:, :1]) * inverse[:, None]
    start = values[:, 0] - slope_x * seen[:, 0, :1] - slope_y * seen[:, 0, 1:2]
    low, high = values.min(axis=1), values.max(axis=1)
    read = []
    for k in range(2):
        plain = start[index, k] + slope_x[index, k] * (column + 0.5) + slope_y[index, k] * (row + 0.5)
        read.append(np.clip(plain, low[index, k], high[index, k]))
    return read[0], read[1]


def layer_image(renderer: Renderer, name: str, layer: Surfaces, camera: Camera, size: Size, pen: float) -> LayerImage:
    """``layer`` drawn with outlines and edges ``pen`` pixels wide."""
    look = glimpse(renderer, name, layer, camera, size)
    fills = np.array([paint.fill for paint in layer.paints] + [(255, 255, 255)], dtype=np.float32) / np.float32(255)
    lines = np.array([paint.line for paint in layer.paints] + [(0, 0, 0)], dtype=np.float32) / np.float32(255)
    colour = np.minimum(fills[look.owner] * look.light[..., None], 1.0).astype(np.float32)
    _hatch(colour, look, layer, lines, pen)
    width = max(1, round(pen))
    marked = _widened(_outlines(look, camera, size) | _edges(look, layer, camera, size), width) & look.hit
    colour[marked] = lines[look.owner[marked]]
    return LayerImage(colour, look.depth, marked)


def _hatch(colour: Pixels, look: Glimpse, layer: Surfaces, lines: Pixels, pen: float) -> None:
    """Thin 45° lines over the cut faces, each solid its own way (ISO 128-3)."""
    rows, columns = np.nonzero(look.cut)
    owner = look.owner[rows, columns]
    way = np.array([paint.hatch for paint in layer.paints])[owner]
    on = (way != 0) & ((columns + way * rows) % round(15 * pen) < max(1, round(0.8 * pen)))
    rows, columns, owner = rows[on], columns[on], owner[on]
    colour[rows, columns] = 0.45 * colour[rows, columns] + 0.55 * lines[owner]


def _outlines(look: Glimpse, camera: Camera, size: Size) -> Mask:
    """Pixels on the nearer side of a border between two solids, or of a leap in depth within one."""
    marked = np.zeros(look.owner.shape, dtype=bool)
    leap = 0.012 * camera.height + 6 * camera.height / size[1]
    for axis in (0, 1):
        low = (slice(None, -1), slice(None))[:: 1 - 2 * axis]
        high = (slice(1, None), slice(None))[:: 1 - 2 * axis]
        differs = (look.owner[low] != look.owner[high]) | (look.cut[low] != look.cut[high])
        with np.errstate(invalid="ignore"):
            behind = look.depth[high] - look.depth[low]
            differs |= np.abs(behind) > leap
        low_is_near = ~(behind < -2 * camera.height / size[1])
        marked[low] |= differs & low_is_near
        marked[high] |= differs & ~low_is_near
    return marked & look.hit


def _edges(look: Glimpse, layer: Surfaces, camera: Camera, size: Size) -> Mask:
    """Pixels that the edges of the solids pass through where no surface of the layer hides them."""
    marked = np.zeros(look.owner.shape, dtype=bool)
    ends = camera.pixels(layer.edges, size)
    reach = np.abs(ends[:, 1, :2] - ends[:, 0, :2]).max(axis=1, initial=0)
    count = np.minimum(np.ceil(reach), 2 * max(size)).astype(np.int64) + 1
    which = np.repeat(np.arange(len(count)), count)
    share = (np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count) + 0.5) / count[which]
    points = ends[which, 0] + share[:, None] * (ends[which, 1] - ends[which, 0])
    column, row = np.floor(points[:, 0]).astype(np.int64), np.floor(points[:, 1]).astype(np.int64)
    within = (column >= 0) & (column < size[0]) & (row >= 0) & (row < size[1]) & (points[:, 2] >= camera.near)
    column, row, depth, owner = column[within], row[within], points[within, 2], layer.edge_owner[which[within]]
    slack = 0.004 * camera.height + 2 * camera.height / size[1]
    shown = (look.owner[row, column] == owner) & (depth < look.depth[row, column] + slack) & ~look.cut[row, column]
    marked[row[shown], column[shown]] = True
    return marked


def _widened(mask: Mask, width: int) -> Mask:
    """``mask`` grown to the right and down until its lines are ``width`` pixels wide."""
    for _ in range(width - 1):
        grown = mask.copy()
        grown[1:] |= mask[:-1]
        grown[:, 1:] |= mask[:, :-1]
        mask = grown
    return mask
