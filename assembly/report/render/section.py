"""The cut face where a picture is cut open: which pixels of the near plane lie inside a solid, and their hatching."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats, Indices
from assembly.report.render.camera import Camera, Size
from assembly.report.render.palette import Paint


def fill_cut(colour: NDArray[np.float32], inside: NDArray[np.bool_], paint: Paint, light: float, pen: float) -> None:
    """Paint a cut face into ``colour`` (h, w, 3): hatched at 45°, each solid its own way (ISO 128-3), and outlined."""
    from scipy.ndimage import binary_erosion

    fill, line = (np.array(ink, dtype=np.float32) / np.float32(255) for ink in (paint.fill, paint.line))
    colour[inside] = np.minimum(fill * np.float32(light), 1.0)
    rows, columns = np.nonzero(inside)
    on = (paint.hatch != 0) & ((columns + paint.hatch * rows) % round(15 * pen) < max(1, round(0.8 * pen)))
    colour[rows[on], columns[on]] = 0.45 * colour[rows[on], columns[on]] + 0.55 * line
    colour[inside & ~binary_erosion(inside, iterations=max(1, round(pen)), border_value=1)] = line


def inside_at_near_plane(triangles: Floats, camera: Camera, size: Size) -> Indices:
    """How many times (h, w) the closed surface ``triangles`` (n, 3, 3) winds round each pixel of the near plane.

    Counted along each row of pixels from its left end: +1 where a surface is entered, -1 where it is
    left. Solids that run into each other count twice and stay solid.
    """
    width, height = size
    steps = np.zeros((height, width + 1), dtype=np.int32)
    seen = camera.pixels(triangles, size)
    seen[..., 2] -= camera.near
    one, other, entering = _cuts(seen)
    low, high = np.minimum(one[:, 1], other[:, 1]), np.maximum(one[:, 1], other[:, 1])
    first = np.clip(np.ceil(low - 0.5), 0, height).astype(np.int64)
    last = np.clip(np.ceil(high - 0.5), 0, height).astype(np.int64)
    count = last - first
    which = np.repeat(np.arange(len(count)), count)
    row = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count) + first[which]
    part = (row + 0.5 - one[which, 1]) / (other[which, 1] - one[which, 1])
    x = one[which, 0] + part * (other[which, 0] - one[which, 0])
    column = np.clip(np.ceil(x - 0.5), 0, width).astype(np.int64)
    np.add.at(steps, (row, column), entering[which])
    return np.asarray(np.cumsum(steps, axis=1)[:, :width], dtype=np.int64)


def _cuts(seen: Floats) -> tuple[Floats, Floats, Indices]:
    """The two ends (k, 2) px of each triangle's cut with depth 0, and +1 or -1 as a step to the right goes in or out.

    An edge is always cut from its nearer end, so that two triangles agree on their shared point to the last bit.
    """
    far = seen[..., 2] > 0
    crossing = seen[(far.any(axis=1)) & (~far.all(axis=1))]
    far = crossing[..., 2] > 0
    alone = np.argmax(far == (far.sum(axis=1) == 1)[:, None], axis=1)
    rows = np.arange(len(crossing))
    tip = crossing[rows, alone]
    ends = []
    for step in (1, 2):
        foot = crossing[rows, (alone + step) % 3]
        tip_is_far = (tip[:, 2] > 0)[:, None]
        near_end, far_end = np.where(tip_is_far, foot, tip), np.where(tip_is_far, tip, foot)
        share = near_end[:, 2:] / (near_end[:, 2:] - far_end[:, 2:])
        ends.append((near_end + share * (far_end - near_end))[:, :2])
    sides = crossing[:, 1:] - crossing[:, :1]
    outward_x = sides[:, 0, 1] * sides[:, 1, 2] - sides[:, 0, 2] * sides[:, 1, 1]
    return ends[0], ends[1], -np.sign(outward_x).astype(np.int64)
