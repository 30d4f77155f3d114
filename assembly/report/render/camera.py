"""Where the picture is seen from. Parallel projection, so that lengths across the sight keep one scale."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from assembly.geometry.mesh import Floats
from assembly.geometry.rotations import unit

Size = tuple[int, int]
"""Width and height in pixels."""

_STEEP = 0.98
"""Sights steeper than this sine have no use for z as the upward direction of the picture."""


@dataclass(frozen=True, eq=False)
class Camera:
    """A parallel sight.

    ``target`` (3,) mm is seen in the middle, along the unit vector ``towards`` (3,), with the unit
    vector ``up`` (3,) upright; ``height`` mm lie between the lower and the upper edge. Depth is
    counted in mm from ``target`` along ``towards``; all that is nearer than ``near`` is cut away.
    """

    target: Floats
    towards: Floats
    up: Floats
    height: float
    near: float = -np.inf

    @property
    def right(self) -> Floats:
        """Unit vector (3,) to the right in the picture."""
        return np.cross(self.towards, self.up)

    def pixels(self, points: ArrayLike, size: Size) -> Floats:
        """Where ``points`` (..., 3) mm are seen: (..., 3) of x to the right, y down in pixels, depth in mm."""
        offset = np.asarray(points, dtype=np.float64) - self.target
        scale = size[1] / self.height
        axes = np.stack([self.right * scale, -self.up * scale, self.towards], axis=-1)
        return np.asarray(offset @ axes + (size[0] / 2, size[1] / 2, 0.0))


def looking(towards: ArrayLike, target: ArrayLike, height: float, near: float = -np.inf) -> Camera:
    """A camera that looks along ``towards``, z upright; straight up or down, x (forward) is upright."""
    sight = unit(towards)
    upright = np.array([0.0, 0.0, 1.0] if abs(sight[2]) < _STEEP else [1.0, 0.0, 0.0])
    up = unit(upright - sight * (upright @ sight))
    return Camera(np.asarray(target, dtype=np.float64), sight, up, height, near)


def from_bearing(bearing: float, above: float) -> Floats:
    """The sight (3,) of a viewer who stands ``bearing`` degrees left of straight ahead and ``above`` the horizon."""
    turn, rise = np.deg2rad(bearing), np.deg2rad(above)
    return -unit((np.cos(turn) * np.cos(rise), np.sin(turn) * np.cos(rise), np.sin(rise)))


def looking_at_all(points: Floats, towards: ArrayLike, size: Size, margin: float = 0.05) -> Camera:
    """A camera along ``towards`` that has all ``points`` (n, 3) in a picture of ``size``, with a free margin."""
    first = looking(towards, points.mean(axis=0), 1.0)
    axes = np.stack([first.right, first.up, first.towards])
    seen = axes @ points.T
    low, high = seen.min(axis=1), seen.max(axis=1)
    target = (low + high) / 2 @ axes
    width, height = (high - low)[:2]
    needed = max(height, width * size[1] / size[0], 1e-3) / (1 - 2 * margin)
    return looking(towards, target, float(needed))
