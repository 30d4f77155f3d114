"""From where the machine and the gap are seen best: a few sights tried in small, always the same choice."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from assembly.geometry.mesh import Floats, Mesh
from assembly.geometry.rotations import unit
from assembly.geometry.scene import Scene
from assembly.report.render.camera import Camera, Size, from_bearing, looking, looking_at_all
from assembly.report.render.renderer import Renderer
from assembly.report.render.stage import PAIR, Layer

_SMALL: Size = (160, 120)
_TINY: Size = (65, 65)
_BEARINGS = (
    *((bearing, 24, 0.01 * index) for index, bearing in enumerate((38, -38, 142, -142))),
    *((bearing, 24, 0.1) for bearing in (72, -72, 108, -108)),
    *((bearing, 52, 0.15) for bearing in (38, -38, 142, -142)),
    *((bearing, 24, 0.4) for bearing in (0, 180)),
    *((bearing, -25, 0.5) for bearing in (38, -38)),
)
"""Where the viewer may stand: degrees from straight ahead of the machine to its left, degrees above the horizon, and
what that place costs, against 1 for the whole visible pair: a machine reads best from a corner and a little above."""
_ROUND_THE_GAP = 24
_STRAIGHT = 0.999
"""Sights nearer than this cosine to an axis of the machine are its plain front, side and top views, easiest to read."""
_NEAREST, _FARTHEST = 40.0, 80.0
"""Millimetres across a close-up, unless the gap or the overlap is larger."""
_ENLARGED_GAP, _SPARE_GAP = 25.0, 3.0
_ENLARGED_OVERLAP, _SPARE_OVERLAP = 3.0, 1.6
"""Width of the close-up in lengths of what it shows: aimed at, and at least."""


@dataclass(frozen=True, eq=False)
class Focus:
    """What the picture is about.

    ``middle`` (3,) mm; ``axis`` (3,) unit vector across the gap, or through the overlap where it is
    thinnest; ``samples`` (n, 3) mm that should be seen; ``outline`` (n, 3) mm, its outermost points;
    ``extent`` mm, its length.
    """

    middle: Floats
    axis: Floats
    samples: Floats
    outline: Floats
    extent: float
    is_gap: bool


def focus(scene: Scene) -> Focus | None:
    """The gap or the overlap of ``scene``; None if it has neither."""
    if scene.overlap is not None and len(scene.overlap.faces):
        return _on_overlap(scene.overlap)
    if scene.gap is None:
        return None
    one, other = (np.asarray(point, dtype=np.float64) for point in scene.gap)
    length = float(np.linalg.norm(other - one))
    axis = (other - one) / length if length > 1e-9 else np.array([0.0, 0.0, 1.0])
    shares = np.linspace(0.15, 0.85, 7)[:, None]
    return Focus((one + other) / 2, axis, one + shares * (other - one), np.stack([one, other]), length, is_gap=True)


def _on_overlap(overlap: Mesh) -> Focus:
    triangles = overlap.vertices[overlap.faces]
    areas = np.linalg.norm(np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]), axis=1)
    middle = np.average(triangles.mean(axis=1), axis=0, weights=areas if areas.sum() > 0 else None)
    offset = overlap.vertices - middle
    _, directions = np.linalg.eigh(offset.T @ offset)
    extent = float(np.linalg.norm(np.ptp(overlap.vertices, axis=0)))
    return Focus(middle, directions[:, 0], middle[None], overlap.vertices, extent, is_gap=False)


def overview(renderer: Renderer, points: Floats, about: Focus | None, size: Size) -> Camera:
    """The camera on all ``points`` (n, 3) mm from which most of the pair and of what the picture is about is seen."""
    reach = 0.05 * float(np.linalg.norm(np.ptp(points, axis=0)))
    sights = [from_bearing(bearing, above) for bearing, above, _ in _BEARINGS]
    views = [looking_at_all(points, sight, _SMALL) for sight in sights]
    seen, clear = zip(*(_seen(renderer, about, camera, reach) for camera in views), strict=True)
    score = (np.array(seen) / np.maximum(np.max(seen, axis=0), 1)).mean(axis=1) + clear
    for index, sight in enumerate(sights):
        score[index] -= _BEARINGS[index][2]
        if about is not None:
            score[index] += 0.3 * float(np.linalg.norm(np.cross(about.axis, sight)))
    return looking_at_all(points, sights[int(np.argmax(score))], size)


def close_up(renderer: Renderer, about: Focus, whole: Camera, size: Size) -> Camera:
    """The camera square to the gap. Where the pair hides the gap on every side, the picture is cut open there."""
    first = unit(np.cross(np.eye(3)[int(np.argmin(np.abs(about.axis)))], about.axis))
    second = np.cross(about.axis, first)
    turns = np.arange(_ROUND_THE_GAP) * (2 * np.pi / _ROUND_THE_GAP)
    cameras = [_near_camera(about, np.cos(turn) * first + np.sin(turn) * second, size) for turn in turns]
    score, clear = np.zeros(len(cameras)), np.zeros(len(cameras))
    widest = max(camera.height for camera in cameras)
    for index, camera in enumerate(cameras):
        zoomed = replace(camera, height=max(0.5, 4 * about.extent))
        pair, others = (renderer.depth(layers, zoomed, _TINY) for layers in (PAIR, (Layer.REST,)))
        clear[index] = _clear_sight(pair, about, zoomed, about.extent + 0.02 * camera.height)
        rest = _clear_sight(others, about, zoomed, camera.height)
        straight = float(np.abs(camera.towards).max() > _STRAIGHT)
        score[index] = 3 * clear[index] + 0.5 * rest + 0.4 * float(camera.towards @ whole.towards) + 0.3 * straight
        score[index] -= 0.3 * max(0.0, float(camera.towards[2])) + 2 * camera.height / widest
    best = int(np.argmax(score))
    return cameras[best] if clear[best] > 0.99 else replace(cameras[best], near=0.0)


def _near_camera(about: Focus, towards: Floats, size: Size) -> Camera:
    """A camera near enough to read the gap or the overlap, far enough to see what stands round it."""
    camera = looking(towards, about.middle, 1.0)
    across_sight = about.outline @ np.stack([camera.right, camera.up], axis=1)
    extent = float(np.ptp(across_sight, axis=0).max())
    most, least = (_ENLARGED_GAP, _SPARE_GAP) if about.is_gap else (_ENLARGED_OVERLAP, _SPARE_OVERLAP)
    height = max(float(np.clip(most * extent, _NEAREST, _FARTHEST)), least * extent)
    return replace(camera, height=height * max(1.0, size[1] / size[0]))


def _seen(renderer: Renderer, about: Focus | None, camera: Camera, reach: float) -> tuple[tuple[float, float], float]:
    """How many pixels of the first and of the second part are seen in small, half of those behind other parts.

    And how clear of the pair what the picture is about is seen.
    """
    first, second, rest = (renderer.depth((layer,), camera, _SMALL) for layer in (*PAIR, Layer.REST))
    pair = np.minimum(first, second)
    weight = np.where(pair <= rest, 1.0, 0.5)
    clear = 0.0 if about is None else _clear_sight(pair, about, camera, reach)
    return (float(weight[first < second].sum()), float(weight[second < first].sum())), clear


def _clear_sight(depth: Floats, about: Focus, camera: Camera, reach: float) -> float:
    """1 where nothing that is ``depth`` (h, w) mm deep hides what the picture is about, 0 if that is buried.

    It is buried ``reach`` mm behind what stands before it.
    """
    size = (depth.shape[1], depth.shape[0])
    spots = camera.pixels(about.samples, size)
    column = np.clip(spots[:, 0].astype(int), 0, size[0] - 1)
    row = np.clip(spots[:, 1].astype(int), 0, size[1] - 1)
    buried = np.maximum(0.0, spots[:, 2] - depth[row, column])
    return float(np.clip(1 - buried / reach, 0, 1).mean())
